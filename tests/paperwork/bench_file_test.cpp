#include <fmt/format.h>
#include <gtest/gtest.h>

#include "paperwork/documents.hpp"

namespace ebbtide::paperwork {
namespace {

using documents::changed;
using documents::refused;

Result<plan::Bench> with(std::string_view from, std::string_view to) {
    return parse_bench(changed(documents::bench, from, to), "b.toml");
}

}  // namespace

TEST(BenchFile, HandsOnEveryValue) {
    const auto bench = parse_bench(documents::bench, "b.toml");
    ASSERT_TRUE(bench.ok()) << bench.error().text();
    EXPECT_EQ(bench->revision, "3");
    EXPECT_EQ(bench->sensor.scale.gain_positive, 1000);
    EXPECT_EQ(bench->sensor.scale.gain_negative, 1010);
    EXPECT_EQ(bench->sensor.scale.offset, 0.01);
    EXPECT_EQ(bench->sensor.scale.u_gain, 0.01);
    EXPECT_FALSE(bench->sensor.scale.full_scale_V.has_value());
    EXPECT_EQ(bench->sensor.lag_s, 0.005);
    EXPECT_EQ(bench->sensor.u_lag_s, 0.001);
    EXPECT_EQ(bench->sensor.u_linearity, 0.004);
    EXPECT_EQ(bench->sensor.resolution_s, 0.03);
    EXPECT_EQ(bench->electrode.gain_negative, 1000) << "one gain is both polarities' gain";
    EXPECT_EQ(bench->induced_fraction(true), 0.11);
    EXPECT_FALSE(bench->induced_fraction(false).has_value()) << "not measured is not zero";
    EXPECT_FALSE(bench->fixture.clamp_length_mm.has_value());
    EXPECT_EQ(bench->fixture.u_induced_fraction, 0.01);
    EXPECT_EQ(bench->recorder.u_time_base, 1e-4);
    EXPECT_FALSE(bench->lead_in_is_zero_state);
    EXPECT_EQ(bench->hygrometer.u_relative_humidity_percent, 0.8);
    EXPECT_EQ(bench->hygrometer.correlation, -0.5);
    EXPECT_EQ(bench->fixture.u_clamping, 0.02);
    ASSERT_EQ(bench->calibrations.size(), 1u);
    EXPECT_EQ(bench->calibrations[0].done, (Date{2026, 3, 1}));
    EXPECT_EQ(bench->calibrations[0].due, (Date{2027, 3, 1})) << "a date in quotes is a date";
}

TEST(BenchFile, HandsOnWhatMayBeLeftOut) {
    std::string text = changed(documents::bench, "resolution_s = 0.03",
                               "resolution_s = 0.03\nserial = \"17\"\nnoise_V = 6\nfull_scale_V = 9000");
    text = changed(text, "induced_fraction_positive = 0.11",
                   "induced_fraction_positive = 0.11\ninduced_fraction_negative = 0.12\nclamp_gap_mm = 76\n"
                   "clamp_length_mm = 30\n"
                   "sensor_distance_mm = 12.5\naperture_mm = 3\nenclosure_behind_mm = 50");
    text = changed(text, "u_channel_skew_s = 0",
                   "u_channel_skew_s = 0.001\nsample_interval_s = 0.004\nlead_in_is_zero_state = true");
    text += "[channels]\ntime = \"t\"\nspecimen = \"s\"\nelectrode = \"e\"\nmarker = \"m\"\n";
    const auto bench = parse_bench(text, "b.toml");
    ASSERT_TRUE(bench.ok()) << bench.error().text();
    EXPECT_EQ(bench->sensor.serial, "17");
    EXPECT_EQ(bench->sensor.noise_V, 6);
    EXPECT_EQ(bench->sensor.scale.full_scale_V, 9000);
    EXPECT_EQ(bench->induced_fraction(false), 0.12);
    EXPECT_EQ(bench->fixture.clamp_gap_mm, 76);
    EXPECT_EQ(bench->fixture.clamp_length_mm, 30);
    EXPECT_EQ(bench->fixture.sensor_distance_mm, 12.5);
    EXPECT_EQ(bench->fixture.aperture_mm, 3);
    EXPECT_EQ(bench->fixture.enclosure_behind_mm, 50);
    EXPECT_EQ(bench->recorder.u_channel_skew_s, 0.001);
    EXPECT_EQ(bench->sample_interval_s, 0.004);
    EXPECT_TRUE(bench->lead_in_is_zero_state);
    EXPECT_EQ(bench->hygrometer.name, "hygrometer");
    EXPECT_EQ(bench->hygrometer.u_temperature_C, 0.3);
    EXPECT_EQ(bench->channels.time, "t");
    EXPECT_EQ(bench->channels.specimen, "s");
    EXPECT_EQ(bench->channels.electrode, "e");
    EXPECT_EQ(bench->channels.marker, "m");
    EXPECT_EQ(bench->calibrations[0].equipment, "sensor");
    EXPECT_EQ(bench->calibrations[0].certificate, "c1");
}

TEST(BenchFile, AnEmptyFixtureReadsLessThanItsClamps) {
    EXPECT_TRUE(refused(with("induced_fraction_positive = 0.11", "induced_fraction_positive = 1"),
                        "it must be from 0 to below 1"));
}

TEST(BenchFile, AMissingUncertaintyIsNotZero) {
    for (const char* line :
         {"u_gain = 0.01\n", "u_lag_s = 0.001\n", "u_linearity = 0.004\n", "lag_s = 0.005\n",
          "resolution_s = 0.03\n", "u_time_base = 1e-4\n", "u_channel_skew_s = 0\n",
          "u_induced_fraction = 0.01\n", "u_temperature_C = 0.3\n"})
        EXPECT_TRUE(refused(with(std::string("\n") + line, "\n"), "is missing")) << line;
}

TEST(BenchFile, GainsAreGivenOnceAndTurnNothingToZero) {
    EXPECT_TRUE(refused(with("gain = 1000", "gain = 0"), "'electrode.gain' is 0"));
    EXPECT_TRUE(refused(with("offset = 0.01", "gain = 1"), "stands beside a gain per polarity"));
    EXPECT_TRUE(refused(with("gain_negative = 1010\n", ""), "'sensor.gain_negative' is missing"));
    EXPECT_TRUE(refused(with("gain_negative = 1010", "gain_negative = -1010"), "have different signs"));
    EXPECT_TRUE(with("gain = 1000", "gain = -1000").ok()) << "a monitor may invert";
}

TEST(BenchFile, ACalibrationIsDueAfterItWasDone) {
    EXPECT_TRUE(refused(with("due = \"2027-03-01\"", "due = 2026-02-01"), "before the calibration was done"));
    EXPECT_TRUE(refused(with("due = \"2027-03-01\"", "due = \"2027-02-30\""), "'2027-02-30' is not a date"));
    EXPECT_TRUE(refused(with("due = \"2027-03-01\"", "due = 2027-03-01T10:00:00Z"), "it must be a date"));
}

TEST(BenchFile, AFixtureCalibrationHoldsForOneGapAndOneSensorDistance) {
    const std::string stated = changed(documents::bench, "induced_fraction_positive = 0.11",
                                       "induced_fraction_positive = 0.11\nclamp_gap_mm = 76\n"
                                       "sensor_distance_mm = 12.5");
    const auto table = [](std::string_view quantity, double value, std::string_view done, double gap_mm) {
        return fmt::format(
            "[[fixture_calibration]]\nquantity = \"{}\"\nvalue = {}\nu = {}\ndone = {}\nby = \"reference "
            "sheet\"\n"
            "clamp_gap_mm = {}\nsensor_distance_mm = 12.5\n",
            quantity, value, 0.001, done, gap_mm);
    };
    using Quantity = plan::FixtureCalibration::Quantity;
    const auto bench = parse_bench(stated + table("capacitance", 1.0e-9, "2026-01-05", 76) +
                                       table("capacitance", 1.1e-9, "2026-02-05", 76) +
                                       table("capacitance", 1.2e-9, "2026-03-05", 70) +
                                       table("induced_fraction_positive", 0.3, "2026-02-05", 76) +
                                       table("induced_fraction_negative", 0.12, "2026-02-05", 76),
                                   "b.toml");
    ASSERT_TRUE(bench.ok()) << bench.error().text();
    ASSERT_NE(bench->calibration_of(Quantity::capacitance), nullptr);
    EXPECT_EQ(bench->calibration_of(Quantity::capacitance)->value, 1.1e-9) << "the latest that holds";
    EXPECT_EQ(bench->calibration_of(Quantity::stray_capacitance), nullptr);
    EXPECT_EQ(bench->induced_fraction(true), 0.11) << "what [fixture] states stands";
    EXPECT_EQ(bench->induced_fraction(false), 0.12) << "and is completed";
    const auto moved =
        parse_bench(stated + table("induced_fraction_negative", 0.12, "2026-02-05", 70), "b.toml");
    ASSERT_TRUE(moved.ok());
    EXPECT_FALSE(moved->induced_fraction(false).has_value()) << "a change of the gap voids it";

    const auto spoiled = [&](std::string_view from, std::string_view to) {
        return parse_bench(stated + changed(table("capacitance", 1.0e-9, "2026-01-05", 76), from, to),
                           "b.toml");
    };
    EXPECT_TRUE(refused(spoiled("quantity = \"capacitance\"", "quantity = \"capacity\""), "capacity"));
    EXPECT_TRUE(refused(spoiled("value = 1e-09", "value = 0"), "above 0"));
    EXPECT_TRUE(refused(spoiled("u = 0.001\n", ""), "is missing"));
    EXPECT_TRUE(refused(spoiled("clamp_gap_mm = 76\n", ""), "is missing"));
}

}  // namespace ebbtide::paperwork
