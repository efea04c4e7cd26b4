#include "work/calibrate_fixture.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "paperwork/paperwork.hpp"
#include "support/program.hpp"
#include "support/sheet_recording.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::testing_support;
using Quantity = plan::FixtureCalibration::Quantity;

work::CalibrationRequest request_of(decltype(work::CalibrationRequest::known) known) {
    work::CalibrationRequest out;
    out.measure = {work::usual_rules(), paperwork::parse_bench(sheet_bench_toml(), "bench.toml").value()};
    out.known = std::move(known);
    out.done = {2026, 3, 14};
    return out;
}

Result<work::FixtureCalibrated> calibrated(const work::CalibrationRequest& request,
                                           const std::vector<std::string>& recordings) {
    auto calibrator = work::FixtureCalibrator::of(request);
    EXPECT_TRUE(calibrator.ok()) << (calibrator ? "" : calibrator.error().text());
    for (const std::string& bytes : recordings) {
        auto source = recording::open_bytes(bytes, "trace.csv", {});
        EXPECT_TRUE(calibrator->add("trace.csv", **source).ok());
    }
    return calibrator->result();
}

TEST(CalibrateFixture, FindsTheInducedFractionOfBothPolarities) {
    SheetRecording empty;
    empty.uncharged = true;
    SheetRecording negative = empty;
    negative.clamp_V = -5000;
    const auto found = calibrated(request_of(work::EmptyFixture{}),
                                  {csv_of(empty, 1), csv_of(empty, 2), csv_of(negative, 3)});
    ASSERT_TRUE(found.ok()) << found.error().text();
    ASSERT_EQ(found->found.size(), 2u);
    const double truth = sheet::TimedSheet::of(empty.fixture)->modes().induced_fraction;
    EXPECT_EQ(found->found[0].quantity, Quantity::induced_fraction_positive);
    EXPECT_EQ(found->found[1].quantity, Quantity::induced_fraction_negative);
    for (const plan::FixtureCalibration& one : found->found) {
        EXPECT_NEAR(one.value, truth, 1e-3);
        EXPECT_GT(one.u, 0.01 * truth) << "both gains are in it";
        EXPECT_LT(one.u, 0.02);
    }
    // A fixture in which a sheet still hangs is not empty.
    EXPECT_FALSE(
        calibrated(request_of(work::EmptyFixture{}), {csv_of({.resistivity_ohm_sq = 2e13}, 4)}).ok());
}

TEST(CalibrateFixture, FindsTheCapacitanceByAReferenceSheet) {
    const SheetRecording sheet;
    const auto found = calibrated(request_of(work::ReferenceSheet{5e11, 0.03, "RS-1"}),
                                  {csv_of(sheet, 1), csv_of(sheet, 2)});
    ASSERT_TRUE(found.ok()) << found.error().text();
    ASSERT_EQ(found->found.size(), 1u);
    const double truth = sheet::TimedSheet::of(sheet.fixture)->capacitance_F_m2();
    EXPECT_EQ(found->found[0].quantity, Quantity::capacitance);
    EXPECT_NEAR(found->found[0].value, truth, 0.01 * truth);
    EXPECT_NEAR(found->found[0].u / truth, 0.03, 0.003);
    EXPECT_NE(found->found[0].by.find("RS-1"), std::string::npos);
    // A specimen that took no charge calibrates nothing.
    SheetRecording none;
    none.uncharged = true;
    EXPECT_FALSE(calibrated(request_of(work::ReferenceSheet{5e11, 0.03}), {csv_of(none, 1)}).ok());
}

/// R 1 gigohm, C 100 pF, stray 3 pF to earth and 5 pF to the clamps: t(p) = R (C + Cs + Cc) ln(1/p) after a
/// prompt drop of Cc / (C + Cs + Cc), as a voltage.
std::string check_standard_csv() {
    const double total_F = 108e-12, T = 1e9 * total_F, drop = 5.0 / 108;
    std::mt19937_64 random(5);
    std::normal_distribution<double> normal;
    std::string out = "time (s),specimen voltage (V),electrode voltage (V)\n";
    for (int i = 0; i < 4000; ++i) {
        const double t = (i - 2500) * 1e-3;
        const bool held = i >= 500 && t < 0;
        const double lag = 0.002,
                     late = t >= 0 ? T / (T - lag) * (std::exp(-t / T) - lag / T * std::exp(-t / lag)) : 0;
        const double plate = held ? 1 : t < 0 ? 0 : (1 - drop) * late + drop * std::exp(-t / lag);
        out += fmt::format("{:.3f},{:.4f},{:.4f}\n", i * 1e-3, 5000 * plate + 3 * normal(random),
                           (held ? 5000 : 0) + normal(random));
    }
    return out;
}

TEST(CalibrateFixture, FindsTheStrayCapacitanceByTheCheckStandard) {
    auto standard = work::CheckStandard{1e9, 100e-12, 0.002};
    const auto found = calibrated(request_of(standard), {check_standard_csv()});
    ASSERT_TRUE(found.ok()) << found.error().text();
    ASSERT_EQ(found->found.size(), 1u);
    EXPECT_EQ(found->found[0].quantity, Quantity::stray_capacitance);
    EXPECT_NEAR(found->found[0].value, 8e-12, 3 * found->found[0].u);
    EXPECT_LT(found->found[0].u, 1e-12);
    ASSERT_TRUE(found->runs.at(0).prompt_drop.has_value());
    // The sensor's lag hides a part of it.
    EXPECT_NEAR(*found->runs[0].prompt_drop, 5.0 / 108, 0.03);
    standard.plate_m2 = 0.005;
    const auto each_area = calibrated(request_of(standard), {check_standard_csv()});
    ASSERT_EQ(each_area->found.size(), 2u);
    EXPECT_EQ(each_area->found[1].quantity, Quantity::capacitance);
    EXPECT_NEAR(each_area->found[1].value, found->found[0].value / 0.005, 1e-15);
    // R and C that alone would be slower cannot be those of this standard.
    EXPECT_FALSE(
        calibrated(request_of(work::CheckStandard{2e9, 100e-12, 0.002}), {check_standard_csv()}).ok());
}

TEST(CalibrateFixture, FindsTheStrayOfASimulatedStandardBehindItsBench) {
    // The simulation's truth: 1.5e9 ohm, 100 pF, 3 pF to earth and 2 pF to the clamps, seen by a bench whose
    // clamps take 2 ms and whose sensor lags, is off by 12 V and hums.
    const std::string example = EBBTIDE_SOURCE_DIR "/examples/bench-faults";
    work::CalibrationRequest request = request_of(work::CheckStandard{1.5e9, 100e-12, 0.001});
    request.measure.bench = paperwork::parse_bench(bytes_of(example + "/bench.toml"), "bench.toml").value();
    const auto found = calibrated(request, {bytes_of(example + "/recordings/check-standard.csv")});
    ASSERT_TRUE(found.ok()) << found.error().text();
    EXPECT_NEAR(found->found[0].value, 5e-12, 2.6 * found->found[0].u);
    EXPECT_LT(found->found[0].u, 1e-12);
}

TEST(CalibrateFixture, WritesLinesThatABenchFileReads) {
    plan::FixtureCalibration one;
    one.quantity = Quantity::capacitance;
    one.value = 1.1e-9;
    one.u = 3e-11;
    one.done = {2026, 3, 14};
    one.by = "reference \"sheet\" \\ 1";
    one.clamp_gap_mm = 76.2;
    one.sensor_distance_mm = 25;
    one.relative_humidity_percent = 50;
    one.temperature_C = 23;
    plan::FixtureCalibration induced = one;
    induced.quantity = Quantity::induced_fraction_negative;
    induced.value = 0.27;
    const auto text = work::with_calibrations(sheet_bench_toml(), "2", {one, induced});
    ASSERT_TRUE(text.ok()) << text.error().text();
    const auto bench = paperwork::parse_bench(*text, "new.toml");
    ASSERT_TRUE(bench.ok());
    EXPECT_EQ(bench->revision, "2");
    const plan::FixtureCalibration* back = bench->calibration_of(Quantity::capacitance);
    ASSERT_NE(back, nullptr);
    EXPECT_EQ(back->value, one.value);
    EXPECT_EQ(back->u, one.u);
    EXPECT_EQ(back->done, one.done);
    EXPECT_EQ(back->by, one.by);
    EXPECT_EQ(back->temperature_C, 23);
    EXPECT_EQ(bench->induced_fraction(false), 0.27) << "stands for what [fixture] does not state";
    EXPECT_FALSE(bench->induced_fraction(true).has_value());
    EXPECT_FALSE(work::with_calibrations("schema = \"x\"\n", "2", {one}).ok());
}

TEST(CalibrateFixture, RefusesWhatIsNotKnown) {
    EXPECT_FALSE(work::FixtureCalibrator::of(request_of(work::ReferenceSheet{0, 0.03})).ok());
    EXPECT_FALSE(work::FixtureCalibrator::of(request_of(work::ReferenceSheet{1e11, std::nan("")})).ok());
    EXPECT_FALSE(work::FixtureCalibrator::of(request_of(work::CheckStandard{1e9, 0, 0.01})).ok());
    EXPECT_FALSE(work::FixtureCalibrator::of(request_of(work::CheckStandard{1e9, 1e-10, 0.01, 0.0})).ok());
    auto request = request_of(work::EmptyFixture{});
    request.measure.bench->fixture.sensor_distance_mm.reset();
    EXPECT_FALSE(work::FixtureCalibrator::of(request).ok());
    request.measure.bench.reset();
    EXPECT_FALSE(work::FixtureCalibrator::of(request).ok());
    EXPECT_FALSE(calibrated(request_of(work::EmptyFixture{}), {}).ok());
}

}  // namespace
