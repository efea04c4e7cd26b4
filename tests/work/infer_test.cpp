// From a recording to the material: what is told, and what is not.

#include "work/infer.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <cstdio>
#include <numbers>
#include <random>

#include "paperwork/paperwork.hpp"
#include "support/sheet_recording.hpp"
#include "work/predict.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::testing_support;
using sheet::Identified;
using sheet::InversionState;
using work::Told;

plan::Bench bench_of(const std::string& toml) {
    auto bench = paperwork::parse_bench(toml, "bench.toml");
    EXPECT_TRUE(bench.ok()) << (bench ? "" : bench.error().text());
    return bench.value();
}

const std::string lengths = "clamp_gap_mm = 76.2\nsensor_distance_mm = 25\nenclosure_behind_mm = 50\n";

std::string calibrated(double value, double u, double gap_mm = 76.2) {
    return fmt::format(
        "[[fixture_calibration]]\nquantity = \"capacitance\"\nvalue = {}\nu = {}\ndone = 2026-03-09\nby = "
        "\"reference "
        "sheet\"\nclamp_gap_mm = {}\nsensor_distance_mm = 25\n",
        value, u, gap_mm);
}

work::InferredFile inferred(const SheetRecording& plan, work::InferRequest request,
                            std::uint64_t seed = 20261125) {
    auto source = recording::open_bytes(csv_of(plan, seed), "trace.csv", {});
    EXPECT_TRUE(source.ok());
    const auto model = work::infer_model(request);
    EXPECT_TRUE(model.ok()) << (model ? "" : model.error().text());
    auto file = work::infer(**source, request, *model);
    EXPECT_TRUE(file.ok()) << (file ? "" : file.error().text());
    return file.value();
}

work::InferRequest request_for(const std::string& toml) {
    work::InferRequest out;
    out.measure = {work::usual_rules(), bench_of(toml)};
    return out;
}

double true_capacitance() {
    return sheet::TimedSheet::of(sheet::CrossSection{0.0762, 0.025, 0.025, 0.05})->capacitance_F_m2();
}

TEST(Infer, TellsTheResistivityOfASheetInACalibratedFixture) {
    for (const double clamp_V : {5000.0, -5000.0}) {
        SheetRecording plan;
        plan.clamp_V = clamp_V;
        const auto file =
            inferred(plan, request_for(sheet_bench_toml(lengths, calibrated(true_capacitance(), 0.03e-9))));
        ASSERT_EQ(file.runs.size(), 1u);
        const work::InferredRun& run = file.runs[0];
        ASSERT_EQ(run.inversion.state, InversionState::determined) << run.inversion.reason;
        EXPECT_EQ(run.told, Told::resistivity);
        ASSERT_EQ(run.resistivity_ohm_sq.identified, Identified::free);
        EXPECT_LT(*run.resistivity_ohm_sq.low, 5e11);
        EXPECT_GT(*run.resistivity_ohm_sq.high, 5e11);
        EXPECT_NEAR(*run.resistivity_ohm_sq.value, 5e11, 0.01 * 5e11);
        // 3.8 % of the capacitance dominates.
        EXPECT_NEAR(std::log(*run.resistivity_ohm_sq.high / *run.resistivity_ohm_sq.low) / 3.92,
                    0.03e-9 / true_capacitance(), 0.004);
        EXPECT_LT(*run.resistance_capacitance_s_m2.high / *run.resistance_capacitance_s_m2.low, 1.05);
        ASSERT_TRUE(run.operators_differ.has_value()) << run.inversion.reason;
        EXPECT_GT(std::abs(*run.operators_differ), 0.01);
    }
}

TEST(Infer, TellsOnlyTheProductWhereNobodyCalibratedTheCapacitance) {
    const auto file = inferred({}, request_for(sheet_bench_toml()));
    ASSERT_EQ(file.runs.size(), 1u);
    const work::InferredRun& run = file.runs[0];
    EXPECT_EQ(run.told, Told::product);
    EXPECT_EQ(run.resistivity_ohm_sq.identified, Identified::not_asked);
    EXPECT_NEAR(*run.resistance_capacitance_s_m2.value, 5e11 * true_capacitance(),
                0.01 * 5e11 * true_capacitance());
    ASSERT_TRUE(run.by_lengths_ohm_sq.has_value());
    EXPECT_NEAR(*run.by_lengths_ohm_sq, 5e11, 5e9);
    // Not even that where the lengths are not known.
    SheetRecording film;
    film.fixture = sheet::Backing{0.0762, 1e-9, 0, 0.1};
    const auto bare = inferred(film, request_for(sheet_bench_toml("clamp_gap_mm = 76.2\n")));
    EXPECT_EQ(bare.runs.at(0).told, Told::product);
    EXPECT_FALSE(bare.runs.at(0).by_lengths_ohm_sq.has_value());
}

TEST(Infer, LeavesACalibrationAsideThatBelongsToAnotherFixture) {
    const auto request = request_for(sheet_bench_toml(lengths, calibrated(2e-9, 0.03e-9, 70)));
    const auto model = work::infer_model(request);
    ASSERT_TRUE(model.ok());
    EXPECT_EQ(model->sheet.source, work::CapacitanceSource::by_lengths);
    EXPECT_NE(model->sheet.caution, "");
    EXPECT_EQ(inferred({}, request).runs.at(0).told, Told::product);
}

TEST(Infer, NeverTellsAResistivityOfASpecimenThatTookNoCharge) {
    // With and without the induced fraction of the bench, with and without the clamps' voltage.
    for (const char* induced : {"", "induced_fraction_positive = 0.28\nu_induced_fraction = 0.01\n"})
        for (const bool electrode : {true, false})
            for (std::uint64_t seed = 0; seed < 10; ++seed) {
                SheetRecording plan;
                plan.uncharged = true;
                plan.electrode = electrode;
                const auto file = inferred(
                    plan,
                    request_for(sheet_bench_toml(lengths + induced, calibrated(true_capacitance(), 1e-11))),
                    seed);
                for (const work::InferredRun& run : file.runs) {
                    EXPECT_EQ(run.told, Told::nothing);
                    EXPECT_EQ(run.resistivity_ohm_sq.identified, Identified::not_asked);
                    EXPECT_NE(run.inversion.state, InversionState::determined);
                    if (electrode) {
                        EXPECT_EQ(run.inversion.state, InversionState::took_no_charge);
                    }
                }
                if (electrode) {
                    EXPECT_EQ(file.runs.size(), 1u);
                }
            }
}

TEST(Infer, GivesBoundsWhereTheBenchCannotSee) {
    const std::string toml = sheet_bench_toml(lengths, calibrated(true_capacitance(), 1e-11));
    SheetRecording fast;
    fast.resistivity_ohm_sq = 2e9;
    const work::InferredRun quick = inferred(fast, request_for(toml)).runs.at(0);
    EXPECT_EQ(quick.inversion.state, InversionState::at_most) << quick.inversion.reason;
    ASSERT_EQ(quick.resistivity_ohm_sq.identified, Identified::bounded_above);
    EXPECT_GE(*quick.resistivity_ohm_sq.high, 2e9);
    EXPECT_FALSE(quick.resistivity_ohm_sq.value.has_value());
    SheetRecording slow;
    slow.resistivity_ohm_sq = 5e13;
    slow.hold_s = 100;
    slow.interval_s = 0.004;
    const work::InferredRun late = inferred(slow, request_for(toml)).runs.at(0);
    EXPECT_EQ(late.inversion.state, InversionState::at_least) << late.inversion.reason;
    ASSERT_EQ(late.resistivity_ohm_sq.identified, Identified::bounded_below);
    EXPECT_LE(*late.resistivity_ohm_sq.low, 5e13);
    EXPECT_GT(*late.resistivity_ohm_sq.low, 1e12);
}

TEST(Infer, ComparesWithConcentricRings) {
    auto request = request_for(sheet_bench_toml(lengths, calibrated(true_capacitance(), 0.02e-9)));
    const sheet::RingElectrode rings{0.0305, 0.0572};
    request.rings = {rings, 5e11 / rings.factor(), 0.05};
    const auto same = inferred({}, request).runs.at(0).rings;
    ASSERT_TRUE(same.has_value());
    EXPECT_TRUE(same->agree);
    request.rings->resistance_ohm /= 4;
    const auto other = inferred({}, request).runs.at(0).rings;
    EXPECT_FALSE(other->agree);
    EXPECT_FALSE(other->within_electrodes);
    EXPECT_NEAR(other->ratio, 4, 0.05);
}

TEST(Infer, AndPredictAgree) {
    // The resistivity that a fall implies gives back the time that was measured on it.
    const std::string toml = sheet_bench_toml(lengths, calibrated(true_capacitance(), 1e-12));
    for (const double resistivity : {2e11, 5e11, 1.5e12}) {
        SheetRecording plan;
        plan.resistivity_ohm_sq = resistivity;
        plan.hold_s = 8;
        plan.record_s = 4;
        const work::InferredRun run = inferred(plan, request_for(toml)).runs.at(0);
        ASSERT_EQ(run.inversion.state, InversionState::determined) << run.inversion.reason;
        work::PredictRequest asked;
        asked.bench = bench_of(toml);
        asked.levels = {plan::parse_level("10%").value(), plan::parse_level("50%").value()};
        asked.resistivity_ohm_sq = *run.resistivity_ohm_sq.value;
        const auto predicted = work::predict(asked);
        ASSERT_TRUE(predicted.ok());
        for (const decay::LevelFigure& level : run.figures.levels)
            for (const work::PredictedLevel& one : predicted->asked->levels)
                if (level.level.value == one.level.value) {
                    ASSERT_TRUE(level.decay_s.has_value());
                    EXPECT_NEAR(one.decay_s, *level.decay_s, 0.02 * one.decay_s + 0.002) << one.level.text;
                }
    }
}

TEST(Infer, AndPredictAgreeOverASweepOfSheets) {
    // Fixed before the run: 60 seeds from 20,261,126, a third each hanging, backed, and backed behind
    // contacts that are sought; R_s 3e10 to 3e12 ohm, evenly on the logarithmic scale. Of 60 intervals of
    // 95 % all but 11 hold R_s (two-sided 1e-4 for a true 95 %: 49 to 60), and what predict makes of the
    // inferred sheet is what measure read on the recording, within lag, clamps' fall, a few samples and
    // noise: 1.5 % and 4 ms.
    constexpr int sheets = 60;
    int covered = 0, compared = 0;
    for (int k = 0; k < sheets; ++k) {
        std::mt19937_64 random(20261126u + static_cast<unsigned>(k));
        const double share = std::uniform_real_distribution<double>(0, 1)(random);
        const bool hangs = k % 3 == 0, contacts = k % 3 == 2;
        SheetRecording plan;
        plan.resistivity_ohm_sq = 3e10 * std::pow(100, share);
        if (!hangs) plan.fixture = sheet::Backing{0.0762, 1e-9, 0, 0.1};
        if (contacts) plan.contact_ratio = 0.2;
        const double T = plan.resistivity_ohm_sq * 1e-9 * std::pow(0.0762 / std::numbers::pi, 2);
        const double slower = contacts ? 2 : 1;
        plan.hold_s = 10 * T * slower;
        plan.record_s = 6 * T * slower;
        plan.interval_s = std::max(T * slower / 300, 2e-4);
        plan.noise_V = contacts ? 1 : 5;
        const std::string toml = hangs ? sheet_bench_toml(lengths, calibrated(true_capacitance(), 1e-13))
                                       : sheet_bench_toml(
                                             "clamp_gap_mm = 76.2\ninduced_fraction_positive = 0.1\n"
                                             "u_induced_fraction = 0.001\n");
        work::InferRequest request = request_for(toml);
        if (!hangs) request.question.backing_capacitance_F_m2 = 1e-9;
        if (contacts) request.second = sheet::Second::contact;
        const work::InferredFile file = inferred(plan, request, random());
        ASSERT_EQ(file.runs.size(), 1u) << k;
        const work::InferredRun& run = file.runs[0];
        ASSERT_EQ(run.told, Told::resistivity) << k << run.inversion.reason;
        const sheet::Estimate& R = run.resistivity_ohm_sq;
        covered +=
            (!R.low || *R.low <= plan.resistivity_ohm_sq) && (!R.high || plan.resistivity_ohm_sq <= *R.high);
        if (!R.value || (contacts && !run.contact_ohm_m)) continue;
        ++compared;
        work::PredictRequest asked;
        asked.bench = bench_of(toml);
        asked.question = request.question;
        asked.levels = {plan::parse_level("10%").value(), plan::parse_level("50%").value()};
        asked.resistivity_ohm_sq = *R.value;
        asked.contact_ohm_m = run.contact_ohm_m.value_or(0);
        const auto predicted = work::predict(asked);
        ASSERT_TRUE(predicted.ok()) << predicted.error().text();
        for (const decay::LevelFigure& level : run.figures.levels)
            for (const work::PredictedLevel& one : predicted->asked->levels)
                if (level.level.value == one.level.value) {
                    ASSERT_TRUE(level.decay_s.has_value()) << k;
                    EXPECT_NEAR(one.decay_s, *level.decay_s, 0.015 * one.decay_s + 0.004)
                        << k << " " << one.level.text;
                }
    }
    EXPECT_GE(covered, 49);
    EXPECT_GE(compared, 55) << "contacts may come back as a bound now and then";
    std::printf("infer and predict: %d of %d intervals hold the truth, %d compared\n", covered, sheets,
                compared);
}

TEST(Infer, NeedsABenchWithClampsAndAGap) {
    work::InferRequest none;
    none.measure = {work::usual_rules(), {}};
    EXPECT_FALSE(work::infer_model(none).ok());
    auto request = request_for(sheet_bench_toml("u_clamping = 0\n"));
    EXPECT_FALSE(work::infer_model(request).ok());
    request = request_for(sheet_bench_toml());
    request.question.backing_capacitance_F_m2 = -1;
    EXPECT_FALSE(work::infer_model(request).ok());
    request.question.backing_capacitance_F_m2 = 5.3e-7;
    const auto film = work::infer_model(request);
    ASSERT_TRUE(film.ok());
    EXPECT_EQ(film->sheet.source, work::CapacitanceSource::stated);
    EXPECT_FALSE(film->other.has_value()) << "a film on a conductor does not hang";
}

}  // namespace
