// What a bench can do wrong is named by a flag; what took no charge never passes.

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "paperwork/paperwork.hpp"
#include "recording/source.hpp"
#include "support/program.hpp"
#include "work/judge_order.hpp"
#include "work/measure.hpp"
#include "work/simulate.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::testing_support;
using plan::FlagCode;

const std::string example = EBBTIDE_SOURCE_DIR "/examples/bench-faults";

std::set<std::string> codes_of(const judge::JudgedRun& run) {
    std::set<std::string> out;
    for (const plan::Flag& flag : run.flags)
        if (flag.consequence != plan::Consequence::note) out.emplace(facts(flag.code).name);
    return out;
}

std::string listed(const std::set<std::string>& codes) {
    std::string out;
    for (const std::string& code : codes) out += (out.empty() ? "" : ", ") + code;
    return out;
}

TEST(FaultsOfTheBench, AreNamedByTheirFlags) {
    struct Row {
        const char* specimen;
        std::vector<FlagCode> flags;  ///< that name the fault
        bool counts;
    };
    const std::vector<Row> rows{
        {"sound", {}, true},
        {"interlock", {FlagCode::hold_differs, FlagCode::release_slow}, true},
        {"sag", {FlagCode::charging_voltage_off}, false},
        {"bounce", {FlagCode::release_bounce}, true},
        {"resistor", {FlagCode::release_slow}, true},
        {"clip", {FlagCode::clipping_suspected}, true},
        {"drift", {FlagCode::hold_unsteady}, true},
        {"silent", {FlagCode::values_missing}, true},
        {"insulator", {FlagCode::induced_not_charged}, false},
        {"slip", {FlagCode::sides_differ}, true},
        {"humid", {FlagCode::conditions_outside}, false},
    };
    // With laws: only they compare both sides of a pulse.
    const auto order = work::judge_order(*work::folder_files(example), Instant{}, {}, {}, {}, {.laws = true});
    ASSERT_TRUE(order.ok()) << order.error().text();
    ASSERT_EQ(order->record.judgement.runs.size(), rows.size());
    for (std::size_t i = 0; i < rows.size(); ++i) {
        const judge::JudgedRun& run = order->record.judgement.runs[i];
        ASSERT_EQ(run.key.specimen, rows[i].specimen);
        const std::set<std::string> codes = codes_of(run);
        for (const FlagCode code : rows[i].flags)
            EXPECT_TRUE(codes.contains(std::string(facts(code).name)))
                << run.key.specimen << " lacks " << facts(code).name << "; it has " << listed(codes);
        if (rows[i].flags.empty()) {
            EXPECT_EQ(listed(codes), "") << run.key.specimen;
        }
        EXPECT_EQ(run.counts, rows[i].counts) << run.key.specimen << ": " << listed(codes);
    }
    // A drift and a slip make a fall that ends too late: not every fault hides behind a void.
    EXPECT_EQ(order->record.judgement.statement, plan::Conformity::fail);
}

TEST(FaultsOfTheBench, RecordingsAreWhatTheirSimulationGives) {
    const auto files = work::read_simulation(example + "/simulation.toml");
    ASSERT_TRUE(files.ok()) << files.error().text();
    for (const std::size_t number : {std::size_t{0}, std::size_t{9}}) {
        const auto trace =
            work::simulate_recording(files->simulation, files->bench, number, files->simulation.seed);
        ASSERT_TRUE(trace.ok()) << trace.error().text();
        EXPECT_EQ(trace->csv, bytes_of(example + "/recordings/" + files->simulation.recordings[number].file));
    }
}

/// Decay time to a tenth of every run in a text.
std::vector<double> tenths_of(const std::string& csv, const plan::Bench& bench) {
    std::vector<double> out;
    auto source = recording::open_bytes(csv, "trace.csv", {});
    EXPECT_TRUE(source.ok()) << (source ? "" : source.error().text());
    if (!source) return out;
    const auto measured = work::measure(**source, {.rules = work::usual_rules(), .bench = bench});
    EXPECT_TRUE(measured.ok()) << (measured ? "" : measured.error().text());
    if (!measured) return out;
    for (const auto& run : measured->runs)
        for (const auto& level : run.figures.levels)
            if (level.level.value == 0.1 && level.decay_s) out.push_back(*level.decay_s);
    return out;
}

TEST(FaultsOfTheBench, AWrongCheckStandardHasAnotherTime) {
    // No flag of a run: what time a standard should have is the bench check's to know.
    const auto files = work::read_simulation(example + "/simulation.toml");
    ASSERT_TRUE(files.ok()) << files.error().text();
    const plan::SimulatedSpecimen& standard = *files->simulation.specimen("standard");
    // Design, section 4: R (C + Cs + Cc) ln(1/p) after a prompt drop of Cc / (C + Cs + Cc), here from the
    // hold.
    const double sum_F = standard.capacitance_F + standard.stray_F + standard.to_clamps_F;
    const double expected_s =
        standard.resistance_ohm * sum_F * std::log((1 - standard.to_clamps_F / sum_F) / 0.1);
    for (const auto& [file, factor] :
         {std::pair{"check-standard.csv", 1.0}, {"wrong-check-standard.csv", 1.4}}) {
        const auto times = tenths_of(bytes_of(example + "/recordings/" + file), files->bench);
        ASSERT_EQ(times.size(), 1u) << file;
        // The clamps' fall adds 2 ms; noise is 7 V of 500 V, band-limited, over a slope of 500 V a time
        // constant.
        EXPECT_NEAR(times[0], expected_s * factor, 0.01) << file;
    }
}

TEST(FaultsOfTheBench, ASlipIsNamedHoweverLateInTheChargeItComes) {
    auto files = work::read_simulation(example + "/simulation.toml");
    ASSERT_TRUE(files.ok()) << files.error().text();
    for (const double after_s : {1.0, 5.0, 9.0}) {
        plan::SimulatedFault slip{plan::FaultKind::slips_out, 1, after_s};
        slip.amount = *plan::facts(plan::FaultKind::slips_out).usual;
        plan::SimulatedRun run;
        run.specimen = "cloth";
        files->simulation.recordings = {{"slip.csv", {run}, {slip}}};
        const auto trace = work::simulate_recording(files->simulation, files->bench, 0, 1);
        ASSERT_TRUE(trace.ok()) << trace.error().text();
        auto source = recording::open_bytes(trace->csv, "slip.csv", {});
        ASSERT_TRUE(source.ok()) << source.error().text();
        work::MeasureRequest request{.rules = work::usual_rules(), .bench = files->bench};
        request.laws.emplace();
        const auto measured = work::measure(**source, request);
        ASSERT_TRUE(measured.ok()) << measured.error().text();
        ASSERT_EQ(measured->runs.size(), 1u);
        EXPECT_TRUE(std::ranges::any_of(measured->runs[0].flags, [](const plan::Flag& flag) {
            return flag.code == FlagCode::sides_differ;
        })) << after_s;
    }
}

TEST(FaultsOfTheBench, AnInsulatorThatTookNoChargeNeverPasses) {
    // 200 seeds from 1: bench 2 of the example, films of 1e16 to 1e19 ohm of either polarity, residuals up to
    // 20 V, charged for 2 s to 12 s. Each must be called what it is; none may count, and no order pass.
    auto files = work::read_simulation(example + "/simulation.toml");
    ASSERT_TRUE(files.ok()) << files.error().text();
    plan::Simulation simulation = files->simulation;
    simulation.rate_Hz = 100;
    simulation.recordings.clear();
    simulation.specimens.clear();
    constexpr std::size_t an_order = 25, seeds = 200;
    for (std::size_t i = 0; i < an_order; ++i) {
        plan::SimulatedSpecimen film;
        film.id = fmt::format("N{}", i);
        film.surface_resistivity_ohm_sq = std::pow(10, 16.0 + static_cast<double>(i % 4));
        film.residual_V = static_cast<double>(i % 5) * 10 - 20;
        plan::SimulatedRun run;
        run.specimen = film.id;
        run.voltage_V = i % 2 == 0 ? 5000 : -5000;
        run.charge_s = 2 + static_cast<double>(i % 11);
        run.decay_s = 1.5;
        simulation.specimens.push_back(film);
        simulation.recordings.push_back({film.id + ".csv", {run}, {}});
    }
    const std::string order_text = bytes_of(example + "/order.toml");
    std::string header = order_text.substr(0, order_text.find("[[specimen]]")), runs;
    for (const auto& recording : simulation.recordings) {
        const plan::SimulatedRun& run = recording.runs.front();
        header +=
            fmt::format("[[specimen]]\nid = \"{}\"\nitem = \"R\"\nstate = \"as received\"\n\n", run.specimen);
        runs += fmt::format(
            "[[recording]]\nfile = \"{}\"\nruns = [{{ specimen = \"{}\", face = \"front\", "
            "conditions = \"dry\", polarity = \"{}\" }}]\n\n",
            recording.file, run.specimen, run.voltage_V > 0 ? "+" : "-");
    }
    std::size_t judged = 0, named = 0;
    for (std::uint64_t seed = 1; judged < seeds; ++seed) {
        TemporaryFolder folder;
        for (const char* file : {"bench.toml", "one-charge-method.toml"})
            std::filesystem::copy_file(example + "/" + file, folder / file);
        std::string method = bytes_of(example + "/one-charge-method.toml");
        method.replace(method.find("polarities = \"positive\""), 23, "polarities = \"either\"  ");
        write_bytes(folder / "one-charge-method.toml", method);
        write_bytes(folder / "order.toml", header + runs);
        for (std::size_t number = 0; number < simulation.recordings.size(); ++number) {
            const auto trace = work::simulate_recording(simulation, files->bench, number, seed);
            ASSERT_TRUE(trace.ok()) << trace.error().text();
            write_bytes(folder / simulation.recordings[number].file, trace->csv);
        }
        const auto order = work::judge_order(*work::folder_files(folder / "."), Instant{});
        ASSERT_TRUE(order.ok()) << order.error().text();
        const judge::Judgement& judgement = order->record.judgement;
        EXPECT_NE(judgement.statement, plan::Conformity::pass) << "seed " << seed;
        EXPECT_NE(judgement.statement, plan::Conformity::conditional_pass) << "seed " << seed;
        for (const judge::JudgedRun& run : judgement.runs) {
            ++judged;
            named += codes_of(run).contains("induced_not_charged") ? 1 : 0;
            EXPECT_FALSE(run.counts) << "seed " << seed << ", " << run.key.specimen << ": "
                                     << listed(codes_of(run));
        }
    }
    EXPECT_EQ(judged, seeds);
    EXPECT_EQ(named, seeds);
}

}  // namespace
