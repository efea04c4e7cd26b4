#include "decay/noise.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "support/simulated_run.hpp"

namespace ebbtide::decay {
namespace {

NoiseModel estimated(std::size_t samples, double noise_V, double correlation_s, std::uint64_t seed) {
    const testing_support::RunPlan plan{
        .samples = samples, .noise_V = noise_V, .correlation_s = correlation_s};
    const auto store = testing_support::simulate(plan, seed);
    NoiseEvidence evidence;
    evidence.levels = {store.view().between(0, 0.49), store.view().between(0.51, 0.99)};
    evidence.fall = store.view().between(1.7, 7);
    evidence.fall_scale_s = 1;
    return estimate_noise(evidence);
}

TEST(Noise, OfWhiteSamplesIsFoundWithoutAModelOfTheFall) {
    const NoiseModel noise = estimated(20000, 0.01, 0, 1);
    EXPECT_NEAR(noise.sample_V(), 0.01, 0.0005);
    EXPECT_LT(noise.correlation_s, 3e-4);  // a sample interval
}

TEST(Noise, OfABandLimitedSensorShowsItsCorrelationTime) {
    const NoiseModel noise = estimated(20000, 0.01, 0.05, 1);
    EXPECT_NEAR(noise.sample_V(), 0.01, 0.002);
    EXPECT_NEAR(noise.correlation_s, 0.05, 0.02);
}

TEST(Noise, MeansOfWhiteSamplesFallWithTheSquareRoot) {
    const NoiseModel noise{.white_V = 2, .step_V = 0};
    std::vector<double> times(100);
    for (std::size_t i = 0; i < times.size(); ++i) times[i] = static_cast<double>(i);
    EXPECT_NEAR(noise.of_mean(times), 0.2, 1e-12);
}

TEST(Noise, MeansOfBandLimitedSamplesFallWithTheCorrelationTimesTheySpan) {
    // Long against the correlation time: variance 2 tau / length (integral of the autocovariance).
    const NoiseModel noise{.band_V = 2, .correlation_s = 10, .step_V = 0};
    std::vector<double> times(100000);
    for (std::size_t i = 0; i < times.size(); ++i) times[i] = 0.1 * static_cast<double>(i);
    EXPECT_NEAR(noise.of_mean(times), 2 * std::sqrt(2 * 10 / 1e4), 1e-3);
}

TEST(Noise, SmallerThanTheRecordersStepIsTheStepOverRootTwelve) {
    trace::SampleStore store;
    for (int i = 0; i < 400; ++i) {
        store.time_s.push_back(i);
        store.value.push_back(0.5 * std::floor(0.02 * i));
    }
    NoiseEvidence evidence;
    evidence.levels = {store.view()};
    const NoiseModel noise = estimate_noise(evidence);
    EXPECT_GE(noise.sample_V(), 0.5 / std::sqrt(12.0) * 0.999);
}

TEST(Noise, OfTooFewSamplesIsNotMadeUp) {
    const NoiseModel noise = estimate_noise({});
    EXPECT_EQ(noise.sample_V(), 0);
    EXPECT_TRUE(noise.from_step);
}

}  // namespace
}  // namespace ebbtide::decay
