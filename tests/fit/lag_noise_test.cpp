#include "fit/lag_noise.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <random>
#include <vector>

namespace ebbtide::fit {
namespace {

struct Noise {
    std::vector<double> x, value;
};

Noise simulated(std::size_t count, const LagNoise& noise, bool uneven) {
    std::mt19937_64 random(20261127);
    std::normal_distribution<double> normal;
    std::uniform_real_distribution<double> uniform(0.2, 1.8);
    Noise out;
    double band = normal(random), x = 0;
    for (std::size_t i = 0; i < count; ++i) {
        const double gap = 0.01 * (uneven ? uniform(random) : 1);
        x += gap;
        const double keep = noise.correlation > 0 ? std::exp(-gap / noise.correlation) : 0;
        band = keep * band + std::sqrt(1 - keep * keep) * normal(random);
        out.x.push_back(x);
        out.value.push_back(noise.white * normal(random) + noise.band * band);
    }
    return out;
}

TEST(LagNoise, IsFoundWhereItIs) {
    const LagNoise truth{.white = 0.3, .band = 0.5, .correlation = 0.08};
    for (const bool uneven : {false, true}) {
        const Noise noise = simulated(10000, truth, uneven);
        const LagNoise found = lag_noise_of(noise.x, noise.value);
        EXPECT_NEAR(found.white, 0.3, 0.02);
        EXPECT_NEAR(found.band, 0.5, 0.03);
        EXPECT_NEAR(found.correlation, 0.08, 0.015);
    }
}

TEST(LagNoise, OfIndependentErrorsIsWhite) {
    const Noise noise = simulated(3000, {.white = 2}, false);
    const LagNoise found = lag_noise_of(noise.x, noise.value);
    EXPECT_NEAR(found.white, 2, 0.1);
    EXPECT_EQ(found.band, 0);
    EXPECT_EQ(found.variance_ratio(0.01), 1);
}

TEST(LagNoise, OfALongRecordKeepsItsWeight) {
    // Of 200,000 samples some serve; what a slow law feels is white^2 + 2 band^2 correlation / interval.
    const LagNoise truth{.white = 0.3, .band = 0.5, .correlation = 0.5};
    const Noise noise = simulated(200000, truth, false);
    const LagNoise found = lag_noise_of(noise.x, noise.value);
    const auto weight = [](const LagNoise& n) { return n.variance() * n.variance_ratio(0.01); };
    EXPECT_NEAR(weight(found) / weight(truth), 1, 0.1);
}

TEST(LagNoise, OfNothingIsNothing) {
    EXPECT_EQ(lag_noise_of({}, {}).variance(), 0);
    const std::vector<double> x{1, 2, 3}, zero{0, 0, 0};
    EXPECT_EQ(lag_noise_of(x, zero).variance(), 0);
}

}  // namespace
}  // namespace ebbtide::fit
