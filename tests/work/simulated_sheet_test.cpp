// What a simulated bench records of a sheet, what `infer` makes of it and what `predict` says of it are one
// model: the same bench file, sensor's opening included.

#include <gtest/gtest.h>

#include <cmath>

#include "paperwork/paperwork.hpp"
#include "recording/source.hpp"
#include "support/sheet_recording.hpp"
#include "work/infer.hpp"
#include "work/predict.hpp"
#include "work/predict_map.hpp"
#include "work/simulate.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::testing_support;

constexpr double true_ohm_sq = 3e11;  // T1 some 0.2 s

/// A wide opening close to the sheet; a sheet that hangs where the wall behind it is stated.
plan::Bench bench_of(bool hangs) {
    const std::string lengths = fmt::format(
        "clamp_gap_mm = 76.2\nsensor_distance_mm = 12.5\naperture_mm = 40\n{}",
        hangs ? "enclosure_behind_mm = 50\n" : "induced_fraction_positive = 0\nu_induced_fraction = 0\n");
    return paperwork::parse_bench(sheet_bench_toml(lengths), "bench.toml").value();
}

work::SheetQuestion question_of(bool hangs) {
    work::SheetQuestion out;
    if (!hangs) out.backing_capacitance_F_m2 = 1e-9;
    return out;
}

/// Charged for long, earthed at once.
work::SimulatedTrace simulated(const plan::Bench& bench, bool hangs,
                               const std::optional<plan::SheetMapFile>& map = {}) {
    plan::Simulation simulation;
    simulation.rate_Hz = 1000;
    if (!hangs) simulation.backing = plan::SimulatedBacking{.capacitance_F_m2 = 1e-9};
    simulation.sensor.noise.white_V = 2;
    simulation.source.fall_s = 0;
    plan::SimulatedSpecimen sheet;
    sheet.id = "sheet";
    sheet.surface_resistivity_ohm_sq = true_ohm_sq;
    sheet.map = map;
    simulation.specimens = {sheet};
    plan::SimulatedRun run;
    run.specimen = "sheet";
    run.charge_s = 5;
    run.decay_s = 2;
    simulation.recordings = {{"sheet.csv", {run}, {}}};
    auto out = work::simulate_recording(simulation, bench, 0, 20261126);
    EXPECT_TRUE(out.ok()) << (out ? "" : out.error().text());
    return *std::move(out);
}

/// How far what is inferred from the trace with the bench's file lies from the truth, relative.
double inferred_error(const work::SimulatedTrace& trace, const plan::Bench& bench, bool hangs) {
    auto source = recording::open_bytes(trace.csv, "sheet.csv", {});
    EXPECT_TRUE(source.ok());
    work::InferRequest request;
    request.measure = {work::usual_rules(), bench};
    request.question = question_of(hangs);
    const auto model = work::infer_model(request);
    EXPECT_TRUE(model.ok()) << (model ? "" : model.error().text());
    const auto file = work::infer(**source, request, *model);
    EXPECT_TRUE(file.ok()) << (file ? "" : file.error().text());
    const auto& T = file->runs.at(0).inversion.time_constant_s;
    EXPECT_TRUE(T.value) << file->runs[0].inversion.reason;
    return std::abs(T.value.value_or(0) / (true_ohm_sq * model->sheet.time_per_ohm_s()) - 1);
}

TEST(SimulatedSheet, IsInferredToBeWhatItIsMadeOf) {
    for (const bool hangs : {true, false}) {
        const plan::Bench bench = bench_of(hangs);
        plan::Bench of_a_point = bench;
        of_a_point.fixture.aperture_mm.reset();
        const double error = inferred_error(simulated(bench, hangs), bench, hangs);
        const double with_a_point = inferred_error(simulated(of_a_point, hangs), bench, hangs);
        // The release is known to a sample of 1 ms; half of one is 0.25 % of T.
        EXPECT_LT(error, 2.5e-3) << hangs;
        EXPECT_GT(with_a_point, 0.02) << hangs << ": a sensor that sees a point is another bench";
    }
}

TEST(SimulatedSheet, FallsInTheTimesThatArePredicted) {
    for (const bool hangs : {true, false}) {
        work::PredictRequest asked;
        asked.bench = bench_of(hangs);
        asked.question = question_of(hangs);
        for (const char* level : {"50%", "1/e", "10%", "1%"})
            asked.levels.push_back(plan::parse_level(level).value());
        asked.resistivity_ohm_sq = true_ohm_sq;
        const auto predicted = work::predict(asked);
        ASSERT_TRUE(predicted.ok()) << predicted.error().text();
        const work::SimulatedTrace trace = simulated(asked.bench, hangs);
        const bench::TrueRelease& truth = trace.releases.at(0);
        for (std::size_t k = 0; k < truth.decay_s.size(); ++k) {
            ASSERT_TRUE(truth.decay_s[k]);
            // 200 strips of a backed sheet are slow by 2e-5; a hold of 20 T leaves e^-20.
            EXPECT_NEAR(*truth.decay_s[k] / predicted->asked->levels[k].decay_s, 1, 1e-4)
                << hangs << " " << asked.levels[k].text;
        }
        EXPECT_NEAR(*truth.slowest_s / predicted->asked->time_constant_s, 1, 1e-4) << hangs;
    }
}

TEST(SimulatedSheet, WithAMapFallsInTheTimesThatArePredicted) {
    // A patch that bridges half of the gap, aside of the middle, and a thread.
    plan::SheetMapFile map;
    map.width_mm = 40;
    map.cell_mm = 5;
    map.surface_resistivity_ohm_sq = true_ohm_sq;
    map.threads = {{.pitch_mm = 20, .thread_mm = 5, .first_mm = 7.5, .surface_resistivity_ohm_sq = 1e9}};
    map.patches = {{0, 30, 20, 40, 1e9}};
    work::MapRequest asked{bench_of(false), question_of(false), {}, 0, map};
    for (const char* level : {"50%", "1/e", "10%", "1%"})
        asked.levels.push_back(plan::parse_level(level).value());
    const auto predicted = work::predict_map(asked);
    ASSERT_TRUE(predicted.ok()) << predicted.error().text();
    const work::SimulatedTrace trace = simulated(asked.bench, false, map);
    const bench::TrueRelease& truth = trace.releases.at(0);
    for (std::size_t k = 0; k < truth.decay_s.size(); ++k) {
        ASSERT_TRUE(truth.decay_s[k]);
        // predict_map.hpp: decay times to 1e-3.
        EXPECT_NEAR(*truth.decay_s[k] / predicted->levels[k].decay_s, 1, 1e-3) << asked.levels[k].text;
        EXPECT_LT(*predicted->levels[k].even_ohm_sq, 0.7 * true_ohm_sq) << "it is no even sheet";
    }
    EXPECT_FALSE(truth.slowest_s);
    EXPECT_NEAR(truth.material_V, 5000, 0.1);
}

}  // namespace
