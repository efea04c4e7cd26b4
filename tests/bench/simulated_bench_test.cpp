// The simulated bench does what a bench does, and what its faults say.

#include "bench/simulated_bench.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <numeric>

namespace ebbtide::bench {
namespace {

using plan::FaultKind;

plan::Bench believed() {
    plan::Bench out;
    out.sensor.scale = {.gain_positive = 1000, .gain_negative = 1000, .full_scale_V = 10000};
    out.sensor.lag_s = 0.005;
    out.electrode = {.gain_positive = 1000, .gain_negative = 1000, .full_scale_V = 10000};
    out.fixture.clamp_gap_mm = 76;
    out.fixture.sensor_distance_mm = 12.5;
    out.fixture.enclosure_behind_mm = 50;
    return out;
}

/// A cloth, an insulating film with and without a residual, a plate and a check standard; no noise.
plan::Simulation quiet() {
    plan::Simulation out;
    out.bench = "bench.toml";
    out.seed = 7;
    out.rate_Hz = 1000;
    using Kind = plan::SimulatedSpecimen::Kind;
    plan::SimulatedSpecimen cloth;
    cloth.id = "cloth";
    cloth.surface_resistivity_ohm_sq = 1e11;  // T1 0.064 s
    cloth.humidity_percent_per_decade = 12;
    plan::SimulatedSpecimen left_over = cloth;
    left_over.id = "left over";
    left_over.surface_resistivity_ohm_sq = 1e17;
    left_over.residual_V = 80;
    plan::SimulatedSpecimen plate;
    plate.id = "plate";
    plate.kind = Kind::plate;
    plan::SimulatedSpecimen standard;
    standard.id = "standard";
    standard.kind = Kind::check_standard;
    standard.resistance_ohm = 1e9;
    standard.capacitance_F = 100e-12;
    standard.stray_F = 3e-12;
    standard.to_clamps_F = 2e-12;
    out.specimens = {cloth, left_over, plate, standard};
    return out;
}

plan::Simulation noisy() {
    plan::Simulation out = quiet();
    out.sensor.noise = {.white_V = 3, .band_V = 7, .pink_V = 2, .hum_V = 4};
    out.sensor.step = 0.0003052;
    out.electrode.noise.white_V = 2;
    out.electrode.skew_s = 0.0007;
    out.source.setting_sd_V = 4;
    out.source.relay_scatter_s = 0.01;
    return out;
}

std::unique_ptr<SimulatedBench> opened(const plan::Simulation& simulation,
                                       std::vector<plan::SimulatedFault> faults = {}) {
    auto out = SimulatedBench::open(simulation, believed(), {.faults = std::move(faults)});
    EXPECT_TRUE(out.ok()) << (out ? "" : out.error().text());
    return out ? std::move(out).value() : nullptr;
}

/// What was recorded, in volts.
struct Record {
    std::vector<double> specimen_V, electrode_V;
    std::vector<Observation> seen;  ///< without their samples
};

void look(SimulatedBench& bench, double duration_s, double block_s, Record& out) {
    const plan::Bench scales = believed();
    for (double left_s = duration_s; left_s > 1e-9; left_s -= block_s) {
        auto seen = bench.observe(std::min(block_s, left_s));
        ASSERT_TRUE(seen.ok()) << seen.error().text();
        for (const double number : seen->specimen)
            out.specimen_V.push_back(scales.sensor.scale.volts(number));
        for (const double number : seen->electrode) out.electrode_V.push_back(scales.electrode.volts(number));
        seen->specimen.clear();
        seen->electrode.clear();
        out.seen.push_back(*seen);
    }
}

void command(SimulatedBench& bench, Action action, double voltage_V = 0) {
    const auto sent = bench.send({action, voltage_V});
    EXPECT_TRUE(sent.ok()) << name_of(action) << ": " << (sent ? "" : sent.error().text());
}

void charge(SimulatedBench& bench, double voltage_V) {
    command(bench, Action::open_shutter);
    command(bench, Action::set_voltage, voltage_V);
    command(bench, Action::lift_earth);
    command(bench, Action::output_on);
}

void release(SimulatedBench& bench) {
    command(bench, Action::output_off);
    command(bench, Action::earth_clamps);
}

/// 0.5 s of zero, 2 s of charge, 2 s of fall. The source is laid on at 0.5 s and taken off at 2.5 s, but for
/// the travel of the relays.
Record run(SimulatedBench& bench, std::string_view specimen, double block_s = 0.05) {
    Record out;
    EXPECT_TRUE(bench.mount(specimen).ok());
    look(bench, 0.5, block_s, out);
    charge(bench, 5000);
    look(bench, 2, block_s, out);
    release(bench);
    look(bench, 2, block_s, out);
    command(bench, Action::close_shutter);
    return out;
}

TEST(SimulatedBench, ReadsEmptyFixtureAndReleasedSheetAsOne) {
    // Superposition for a linear sheet: what the clamps induce and what the sheet's charge shows make up what
    // both showed. Clamps that are earthed at once, so that there is a just after.
    plan::Simulation at_once = quiet();
    at_once.source.fall_s = 0;
    auto bench = opened(at_once);
    double reading_V[2][2];  // empty and cloth; before and after
    for (const bool cloth : {false, true}) {
        ASSERT_TRUE(bench->mount(cloth ? "cloth" : "").ok());
        charge(*bench, 5000);
        ASSERT_TRUE(bench->observe(2).ok());
        reading_V[cloth][0] = bench->true_reading_V();
        release(*bench);
        ASSERT_TRUE(bench->observe(at_once.source.relay_s).ok());
        reading_V[cloth][1] = bench->true_reading_V();
    }
    EXPECT_NEAR(reading_V[0][0] + reading_V[1][1], reading_V[1][0], 5000 * 1e-6);
    EXPECT_NEAR(reading_V[1][0], 5000, 5000 * 1e-6);
    EXPECT_EQ(reading_V[0][1], 0);
    // Design, section 4: 11 % at 12.5 mm.
    EXPECT_NEAR(reading_V[0][0] / 5000, 0.11, 0.005);
}

TEST(SimulatedBench, GivesTheSameSamplesInBlocksOfAnySize) {
    const std::vector<plan::SimulatedFault> faults{
        {.kind = FaultKind::source_sags, .output_on = 1, .after_s = 0.7, .for_s = 0.3, .amount = 0.2},
        {.kind = FaultKind::slips_out, .output_on = 1, .after_s = 1.1, .amount = 1e16}};
    auto small = opened(noisy(), faults), large = opened(noisy(), faults);
    const Record a = run(*small, "cloth", 0.0013), b = run(*large, "cloth", 10);
    EXPECT_EQ(a.specimen_V, b.specimen_V);
    EXPECT_EQ(a.electrode_V, b.electrode_V);
    EXPECT_EQ(a.specimen_V.size(), 4500u);
    ASSERT_EQ(small->releases().size(), 1u);
    EXPECT_EQ(small->releases()[0].at_s, large->releases()[0].at_s);
}

TEST(SimulatedBench, DoesSoForASheetThatIsFollowedByStepsToo) {
    plan::Simulation simulation = noisy();
    simulation.specimens[0].field_coefficient = 2e-4;
    auto small = opened(simulation), large = opened(simulation);
    EXPECT_EQ(run(*small, "cloth", 0.0013).specimen_V, run(*large, "cloth", 10).specimen_V);
    EXPECT_NEAR(*small->releases().at(0).decay_s[2], *large->releases().at(0).decay_s[2], 1e-9);
}

TEST(SimulatedBench, RepeatsBySeedAndDiffersByIt) {
    plan::Simulation other = noisy();
    other.seed = 8;
    auto first = opened(noisy()), again = opened(noisy()), different = opened(other);
    const Record a = run(*first, "cloth"), b = run(*again, "cloth"), c = run(*different, "cloth");
    EXPECT_EQ(a.specimen_V, b.specimen_V);
    EXPECT_NE(a.specimen_V, c.specimen_V);
    EXPECT_NE(first->releases()[0].at_s, different->releases()[0].at_s);  // relays do not wait for a clock
}

TEST(SimulatedBench, TellsTheTruthOfWhatItShowed) {
    // Without noise and lag the recorded fall itself has the true decay times.
    plan::Simulation plain = quiet();
    plain.sensor_lag_s = 0;
    plain.rate_Hz = 10000;
    auto bench = opened(plain);
    const Record record = run(*bench, "cloth");
    ASSERT_EQ(bench->releases().size(), 1u);
    const TrueRelease& truth = bench->releases()[0];
    EXPECT_NEAR(truth.at_s, 2.504, 1e-9);  // the relay travels for 4 ms
    EXPECT_NEAR(truth.material_V, 5000, 0.01);
    const auto at = [&](double t) {
        return record.specimen_V[static_cast<std::size_t>(std::llround(t * 1e4))];
    };
    constexpr std::array levels{0.5, 1 / std::numbers::e, 0.1, 0.01};
    for (std::size_t k = 0; k < levels.size(); ++k) {
        ASSERT_TRUE(truth.decay_s[k]) << true_level_names[k];
        // A sample either side: 0.1 ms.
        const double level_V = levels[k] * truth.initial_voltage_V, t = truth.at_s + *truth.decay_s[k];
        EXPECT_GT(at(t - 1e-4), level_V);
        EXPECT_LT(at(t + 1e-4), level_V);
    }
    // From a tenth to a hundredth it falls as its slowest mode: T1 ln 10.
    EXPECT_NEAR((*truth.decay_s[3] - *truth.decay_s[2]) / *truth.slowest_s, std::log(10), 1e-3);
}

/// The cloth on a backing; and the same cut into cells, which are all alike.
TEST(SimulatedBench, TakesAMapForTheSheetThatItDescribes) {
    plan::Simulation even = quiet();
    even.backing = plan::SimulatedBacking{.capacitance_F_m2 = 1e-9};
    even.specimens.resize(1);
    plan::Simulation mapped = even;
    mapped.specimens[0].map =
        plan::SheetMapFile{.width_mm = 40, .cell_mm = 4, .surface_resistivity_ohm_sq = 1e11};
    for (const std::vector<plan::SimulatedFault>& faults : std::vector<std::vector<plan::SimulatedFault>>{
             {},
             {{.kind = FaultKind::slips_out, .output_on = 1, .after_s = 1.1, .amount = 1e16}},
             {{.kind = FaultKind::humidity_excursion, .amount = 18}},
             {{.kind = FaultKind::no_charge_taken}}}) {
        auto strips = opened(even, faults), cells = opened(mapped, faults);
        const Record a = run(*strips, "cloth"), b = run(*cells, "cloth");
        ASSERT_EQ(a.specimen_V.size(), b.specimen_V.size());
        double most = 0;
        for (std::size_t i = 0; i < a.specimen_V.size(); ++i)
            most = std::max(most, std::abs(a.specimen_V[i] - b.specimen_V[i]));
        // 19 cells along the gap are slow by pi^2 / 12 of 1/19^2, 0.2 % of T: 0.1 % of the voltage, and what
        // the view is cut into by as much.
        EXPECT_LT(most, 5000 * 0.003);
        EXPECT_NEAR(cells->releases().at(0).material_V, strips->releases().at(0).material_V, 5000 * 0.003);
    }
    mapped.backing.reset();
    EXPECT_FALSE(SimulatedBench::open(mapped, believed(), {}).ok()) << "a sheet that hangs";
    mapped.backing = even.backing;
    mapped.specimens[0].map->patches = {{70, 80, 0, 10, 1e9}};
    EXPECT_FALSE(SimulatedBench::open(mapped, believed(), {}).ok()) << "a patch beyond the clamp";
}

TEST(SimulatedBench, ShowsZeroAndNoiseBehindItsShutter) {
    plan::Simulation drifting = noisy();
    drifting.sensor.offset_V = 12;
    drifting.sensor.drift_V_per_h = 36000;  // 10 V/s
    auto bench = opened(drifting);
    ASSERT_TRUE(bench->mount("plate").ok());
    command(*bench, Action::set_voltage, 5000);
    command(*bench, Action::lift_earth);
    command(*bench, Action::output_on);
    Record record;
    look(*bench, 10, 1, record);
    const double mean_V = std::accumulate(record.specimen_V.begin(), record.specimen_V.end(), 0.0) / 10000;
    // The slowest parts of the 2 V of 1/f noise hardly average down over 10 s.
    EXPECT_NEAR(mean_V, 12 + 50, 4);
    EXPECT_NEAR(record.electrode_V.back(), 5000, 30);
}

TEST(SimulatedBench, SpansOnAPlateAndFloatsOnItsBleedResistor) {
    auto bench = opened(quiet());
    ASSERT_TRUE(bench->mount("plate").ok());
    charge(*bench, -5000);
    Record record;
    look(*bench, 2, 1, record);
    EXPECT_NEAR(record.specimen_V.back(), -5000, 1e-3);
    command(*bench, Action::output_off);
    look(*bench, 0.004 + 0.22, 1, record);
    // Design, section 4: source off is not earthed, 220 pF through 1 Gohm is 0.22 s.
    EXPECT_NEAR(bench->clamp_V(), -5000 / std::numbers::e, 0.01);
}

TEST(SimulatedBench, ChecksItsStandardByItsFormula) {
    auto bench = opened(quiet());
    static_cast<void>(run(*bench, "standard"));
    const TrueRelease& truth = bench->releases().at(0);
    EXPECT_NEAR(truth.initial_voltage_V, 5000, 0.01);
    // Design, section 4: R (C + Cs + Cc) ln(1/p) after a prompt drop of Cc / (C + Cs + Cc), from the hold
    // voltage. Clamps that fall with a time constant s delay it by -RC ln(1 - s/RC), as a sensor's lag would.
    const double RC_s = 1e9 * 105e-12, delay_s = -RC_s * std::log(1 - 0.002 / RC_s);
    EXPECT_NEAR(*truth.decay_s[2], RC_s * std::log((1 - 2.0 / 105) / 0.1) + delay_s, 1e-5);
}

TEST(SimulatedBench, LeavesAResidualOnANeutralisedInsulator) {
    auto bench = opened(quiet());
    ASSERT_TRUE(bench->mount("left over").ok());
    command(*bench, Action::open_shutter);
    Record record;
    look(*bench, 0.5, 1, record);
    EXPECT_NEAR(record.specimen_V.back(), 80, 0.1);  // beside the clamps it goes on leaving the sheet
}

TEST(SimulatedBench, RefusesInItsOwnWords) {
    auto bench = opened(quiet(), {{.kind = FaultKind::interlock_opens, .after_s = 1}});
    EXPECT_FALSE(bench->mount("nobody").ok());
    EXPECT_FALSE(bench->observe(0).ok());
    EXPECT_FALSE(bench->send({Action::set_voltage, NAN}).ok());
    ASSERT_TRUE(bench->observe(2).ok());
    EXPECT_EQ(bench->send({Action::output_on, 0}).error().code, Fault::bad_input);
    plan::Bench unmeasured = believed();
    unmeasured.fixture.clamp_gap_mm.reset();
    EXPECT_FALSE(SimulatedBench::open(quiet(), unmeasured, {}).ok());
}

struct Faulty {
    std::unique_ptr<SimulatedBench> bench;
    Record record;
    [[nodiscard]] double specimen_V(double at_s) const {
        return record.specimen_V[static_cast<std::size_t>(std::llround(at_s * 1000))];
    }
    [[nodiscard]] double electrode_V(double at_s) const {
        return record.electrode_V[static_cast<std::size_t>(std::llround(at_s * 1000))];
    }
    [[nodiscard]] const TrueRelease& truth() const { return bench->releases().at(0); }
};

Faulty with(std::vector<plan::SimulatedFault> faults, std::string_view specimen = "cloth") {
    Faulty out;
    out.bench = opened(quiet(), std::move(faults));
    out.record = run(*out.bench, specimen);
    return out;
}

TEST(ScriptedFault, TakesTheOutputOffWhenTheInterlockOpens) {
    const Faulty it = with({{.kind = FaultKind::interlock_opens, .output_on = 1, .after_s = 1}});
    EXPECT_NEAR(it.electrode_V(1.5), 5000, 1);
    EXPECT_LT(it.electrode_V(2.49), 100);  // four time constants of the bleed resistor
    EXPECT_EQ(it.record.seen.back().interlock_closed, State::no);
    EXPECT_EQ(it.record.seen.back().output_on, State::no);
    ASSERT_EQ(it.bench->faults().size(), 1u);
    EXPECT_NEAR(it.bench->faults()[0].from_s, 1.504, 1e-9);
}

TEST(ScriptedFault, SagsForAWhile) {
    const Faulty it =
        with({{.kind = FaultKind::source_sags, .output_on = 1, .after_s = 0.5, .for_s = 0.5, .amount = 0.2}});
    EXPECT_NEAR(it.electrode_V(1.45), 4000, 1);
    EXPECT_NEAR(it.electrode_V(2.4), 5000, 1);
}

TEST(ScriptedFault, TripsUntilItIsReset) {
    const Faulty it = with({{.kind = FaultKind::source_trips, .output_on = 1, .after_s = 1}});
    EXPECT_LT(it.electrode_V(2.49), 100);
    EXPECT_FALSE(it.bench->send({Action::output_on, 0}).ok());
    it.bench->reset_source();
    EXPECT_TRUE(it.bench->send({Action::output_on, 0}).ok());
}

TEST(ScriptedFault, BouncesBackToTheSource) {
    const Faulty it = with({{.kind = FaultKind::relay_bounces, .amount = 0.008}});
    EXPECT_LT(it.electrode_V(2.513), 0.05 * 5000);
    EXPECT_GT(it.electrode_V(2.521), 0.9 * 5000);
    EXPECT_LT(it.electrode_V(2.56), 1);
}

TEST(ScriptedFault, EarthsThroughAForgottenResistor) {
    const Faulty it = with({{.kind = FaultKind::forgotten_resistor, .amount = 5e8}});
    EXPECT_NEAR(it.electrode_V(2.504 + 0.11), 5000 / std::numbers::e, 1);  // 220 pF of source and cable
}

TEST(ScriptedFault, ShowsTheSensorsOwnTroubles) {
    const Faulty clips = with({{.kind = FaultKind::sensor_clips, .amount = 4000}});
    EXPECT_EQ(*std::ranges::max_element(clips.record.specimen_V), 4000);
    const Faulty drifts = with({{.kind = FaultKind::sensor_drifts, .after_s = 1, .amount = 100}});
    EXPECT_NEAR(drifts.specimen_V(4.4) - with({}).specimen_V(4.4), 340, 0.1);
    const Faulty silent =
        with({{.kind = FaultKind::sensor_silent, .output_on = 1, .after_s = 1, .for_s = 1}});
    EXPECT_EQ(silent.record.electrode_V.size(), 4500u);
    EXPECT_NEAR(static_cast<double>(silent.record.specimen_V.size()), 3500, 50);  // a block of 50 ms
}

TEST(ScriptedFault, LeavesTheSheetUncharged) {
    const Faulty it = with({{.kind = FaultKind::no_charge_taken}});
    EXPECT_NEAR(it.truth().initial_voltage_V, 0.11 * 5000, 0.005 * 5000);
    // A perfect-looking decay: the clamps' own, 2 ms.
    EXPECT_NEAR(*it.truth().decay_s[2], 0.002 * std::log(10), 1e-6);
}

TEST(ScriptedFault, SlipsOutOfAClamp) {
    // The charge has twice as far to go.
    const Faulty slipped =
        with({{.kind = FaultKind::slips_out, .output_on = 1, .after_s = 1.5, .amount = 1e16}});
    const Faulty held = with({});
    EXPECT_GT(*slipped.truth().slowest_s, 1.5 * *held.truth().slowest_s);
    EXPECT_GT(*slipped.truth().decay_s[2], 1.5 * *held.truth().decay_s[2]);
}

TEST(ScriptedFault, MoistensTheAirAndTheSheet) {
    // A decade of resistivity for 12 % of humidity.
    const Faulty moist = with({{.kind = FaultKind::humidity_excursion, .amount = 24}});
    EXPECT_NEAR(*with({}).truth().slowest_s / *moist.truth().slowest_s, 10, 1e-6);
    EXPECT_EQ(moist.record.seen.back().relative_humidity_percent, 24);
}

TEST(ScriptedFault, MountsAnotherStandard) {
    const Faulty right = with({}, "standard");
    const Faulty wrong = with({{.kind = FaultKind::wrong_check_standard, .amount = 1.5}}, "standard");
    EXPECT_NEAR(*wrong.truth().decay_s[2] / *right.truth().decay_s[2], 1.5, 0.01);
}

TEST(ScriptedFault, ShowsWhatIsNotSo) {
    const Faulty lies = with({{.kind = FaultKind::readback_wrong,
                               .output_on = 1,
                               .after_s = 1,
                               .for_s = 0.5,
                               .readback = plan::Readback::output,
                               .shows = false}});
    // Blocks of 50 ms, after the samples that they hold.
    EXPECT_EQ(lies.record.seen[25].output_on, State::yes);  // 1.3 s
    EXPECT_EQ(lies.record.seen[35].output_on, State::no);   // 1.8 s
    EXPECT_EQ(lies.record.seen[45].output_on, State::yes);  // 2.3 s
    const Faulty unread = with({{.kind = FaultKind::readback_wrong, .readback = plan::Readback::interlock}});
    EXPECT_EQ(unread.record.seen.front().interlock_closed, State::unread);
}

TEST(ScriptedFault, LosesTheLinkAndCountsWhatWasLost) {
    auto bench = opened(quiet(), {{.kind = FaultKind::link_lost, .after_s = 1, .for_s = 1}});
    ASSERT_TRUE(bench->observe(0.9).ok());
    const auto lost = bench->observe(0.3);
    ASSERT_FALSE(lost.ok());
    EXPECT_EQ(lost.error().code, ebbtide::Fault::unreadable);
    EXPECT_FALSE(bench->send({Action::output_off, 0}).ok());
    EXPECT_FALSE(bench->observe(0.7).ok());
    const auto back = bench->observe(0.2);
    ASSERT_TRUE(back.ok());
    EXPECT_EQ(back->lost, 1000u);
    EXPECT_EQ(back->specimen.size(), 200u);
    EXPECT_NEAR(back->from_s, 1.9, 1e-12);
}

TEST(ScriptedFault, ObeysLate) {
    EXPECT_NEAR(with({{.kind = FaultKind::commands_late, .amount = 0.5}}).truth().at_s, 3.004, 1e-9);
}

}  // namespace
}  // namespace ebbtide::bench
