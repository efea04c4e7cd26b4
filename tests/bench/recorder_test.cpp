// From volts to recorded numbers: what each trouble of a channel does to them.

#include "bench/recorder.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>
#include <numeric>

namespace ebbtide::bench {
namespace {

const plan::VoltageScale a_thousandth{.gain_positive = 1000, .gain_negative = 990, .full_scale_V = 6000};
constexpr double rate_Hz = 1000;

std::vector<double> recorded(const plan::SimulatedChannel& truth, double true_V, std::size_t count,
                             std::uint64_t seed = 1) {
    std::vector<double> out(count, true_V);
    RecorderChannel(a_thousandth, truth, rate_Hz, seed, 0).record(out);
    return out;
}

double mean_of(const std::vector<double>& values) {
    return std::accumulate(values.begin(), values.end(), 0.0) / static_cast<double>(values.size());
}

double deviation_of(const std::vector<double>& values) {
    const double mean = mean_of(values);
    double sum = 0;
    for (const double value : values) sum += (value - mean) * (value - mean);
    return std::sqrt(sum / static_cast<double>(values.size()));
}

/// Power of the numbers at a frequency, over some seconds.
double power_at(const std::vector<double>& values, double hertz) {
    std::complex<double> sum = 0;
    for (std::size_t i = 0; i < values.size(); ++i)
        sum += values[i] * std::polar(1.0, -2 * std::numbers::pi * hertz * static_cast<double>(i) / rate_Hz);
    return std::norm(sum) / static_cast<double>(values.size());
}

TEST(Recorder, ShowsWhatTheBenchFileSaysWhenNothingIsWrong) {
    EXPECT_DOUBLE_EQ(recorded({}, 4000, 1).front(), 4);
    EXPECT_DOUBLE_EQ(recorded({}, -990, 1).front(), -1);  // a gain for each polarity
    EXPECT_DOUBLE_EQ(recorded({}, 8000, 1).front(), 6);   // full scale
    EXPECT_DOUBLE_EQ(recorded({}, -8000, 1).front(), -6000.0 / 990);
}

TEST(Recorder, HasGainAndOffsetErrorsAndSteps) {
    EXPECT_DOUBLE_EQ(recorded({.gain_error = 0.02}, 1000, 1).front(), 1.02);
    EXPECT_DOUBLE_EQ(recorded({.offset_V = 12}, 0, 1).front(), 0.012);
    EXPECT_DOUBLE_EQ(recorded({.step = 0.25}, 1130, 1).front(), 1.25);
    EXPECT_DOUBLE_EQ(recorded({.step = 0.25}, 1120, 1).front(), 1.0);
    const auto drifted = recorded({.drift_V_per_h = 3600}, 0, 2001);  // 1 V/s
    EXPECT_NEAR(drifted.back() - drifted.front(), 0.002, 1e-12);
}

TEST(Recorder, ClipsNoiseAndAll) {
    std::vector<double> samples(1000, 4100);
    plan::SimulatedChannel truth;
    truth.noise.white_V = 20;
    RecorderChannel(a_thousandth, truth, rate_Hz, 1, 0).record(samples, 4000);
    EXPECT_EQ(*std::ranges::max_element(samples), 4);
    EXPECT_EQ(std::ranges::count(samples, 4.0), 1000);  // five deviations below
}

TEST(Recorder, HasNoiseOfTheSizeThatIsAskedFor) {
    // 100,000 samples: a white deviation is known to 0.22 %, one of 4 ms to 0.22 % times sqrt(8).
    plan::SimulatedChannel white, band;
    white.noise.white_V = 50;
    band.noise.band_V = 50;
    const auto plain = recorded(white, 1000, 100'000), coloured = recorded(band, 1000, 100'000);
    EXPECT_NEAR(deviation_of(plain), 0.05, 0.05 * 4 * 0.0022);
    EXPECT_NEAR(deviation_of(coloured), 0.05, 0.05 * 4 * 0.0063);
    EXPECT_NEAR(mean_of(plain), 1, 4 * 0.05 / std::sqrt(1e5));
    // Neighbours: e^(-1 ms / 4 ms) of each other.
    double together = 0;
    for (std::size_t i = 1; i < coloured.size(); ++i) together += (coloured[i] - 1) * (coloured[i - 1] - 1);
    EXPECT_NEAR(together / 1e5 / (0.05 * 0.05), std::exp(-0.25), 0.03);
}

TEST(Recorder, HasPinkNoiseWhosePowerFallsAsTheFrequency) {
    // A decade of frequency is a tenth of the power. Means over 40 seeds and 21 frequencies: 840 powers, each
    // with a deviation of its own size, 3.5 % together.
    plan::SimulatedChannel pink;
    pink.noise.pink_V = 100;
    double low = 0, high = 0;
    for (std::uint64_t seed = 0; seed < 40; ++seed) {
        const auto samples = recorded(pink, 0, 8000, seed);
        for (int k = -10; k <= 10; ++k) {
            low += power_at(samples, 5 + 0.125 * k);
            high += power_at(samples, 50 + 0.125 * k);
        }
    }
    EXPECT_NEAR(std::log10(low / high), 1, 0.15);
}

TEST(Recorder, HasHumInItsOwnFrequencyAndPhase) {
    plan::SimulatedChannel truth;
    truth.noise.hum_V = 30;
    truth.noise.hum_Hz = 60;
    truth.noise.hum_phase_rad = std::numbers::pi / 2;
    const auto samples = recorded(truth, 1000, 60'001);
    EXPECT_NEAR(samples.front(), 1.03, 1e-12);
    EXPECT_NEAR(samples.back(), 1.03, 1e-12);  // a minute later: 3,600 whole turns
    EXPECT_NEAR(power_at({samples.begin(), samples.begin() + 1000}, 60), 0.03 * 0.03 / 4 * 1000, 1e-6);
}

TEST(Recorder, GivesTheSameNumbersInBlocksOfAnySize) {
    plan::SimulatedChannel truth;
    truth.noise = {.white_V = 3, .band_V = 4, .pink_V = 5, .hum_V = 6};
    truth.drift_V_per_h = 100;
    const auto whole = recorded(truth, 500, 5000, 9);
    for (const std::size_t block : {std::size_t{1}, std::size_t{7}, std::size_t{64}, std::size_t{4999}}) {
        std::vector<double> pieces(5000, 500);
        RecorderChannel channel(a_thousandth, truth, rate_Hz, 9, 0);
        for (std::size_t at = 0; at < pieces.size(); at += block)
            channel.record(std::span(pieces).subspan(at, std::min(block, pieces.size() - at)));
        EXPECT_EQ(pieces, whole) << block;
    }
}

}  // namespace
}  // namespace ebbtide::bench
