// What is not a run: noise, drift, hum, a flickering last digit.

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <string_view>
#include <vector>

#include "trace/bench_stream.hpp"
#include "trace/cutter.hpp"

namespace ebbtide::trace {
namespace {

using testing_support::BenchStream;
using testing_support::cut;
using testing_support::noise;
using testing_support::sum;

struct Disturbance {
    const char* name;
    std::vector<double> samples_V;
};

std::vector<double> rounded(std::vector<double> samples, double digit_V) {
    for (double& v : samples) v = digit_V * std::round(v / digit_V);
    return samples;
}

std::vector<Disturbance> disturbances(std::size_t samples, std::uint64_t seed) {
    std::vector<double> hum, drift;
    for (std::size_t i = 0; i < samples; ++i) {
        const double t = static_cast<double>(i);
        hum.push_back(10 * std::sin(2 * std::numbers::pi * t / 200) +
                      3 * std::sin(2 * std::numbers::pi * t / 66.7));
        drift.push_back(t * 200 / static_cast<double>(samples));
    }
    return {
        {"nothing at all", std::vector<double>(samples, 0.0)},
        {"a constant", std::vector<double>(samples, 12.5)},
        {"white noise", noise(samples, 10, 0, seed)},
        {"noise over ten samples", noise(samples, 10, 10, seed)},
        {"noise over three hundred samples", noise(samples, 10, 300, seed)},
        {"noise over five thousand samples", noise(samples, 10, 5000, seed)},
        {"a flickering last digit", rounded(noise(samples, 0.3, 0, seed), 1)},
        {"a last digit that seldom flickers", rounded(noise(samples, 0.12, 0, seed), 1)},
        {"mains hum", hum},
        {"hum in noise", sum(hum, noise(samples, 2, 0, seed))},
        {"drift", drift},
        {"drift under noise", sum(drift, noise(samples, 10, 0, seed))},
    };
}

TEST(QuietStream, GivesNoRunThatSurvivesBesideARealOne) {
    constexpr std::size_t quiet = 200000;
    for (std::uint64_t seed = 1; seed <= 8; ++seed)
        for (const Disturbance& d : disturbances(2 * quiet + 2000 + 100 * 20, seed)) {
            BenchStream stream;
            stream.rest(quiet).ramp(5000, 20).hold(1000).fall(100, 980).rest(quiet);
            const auto runs = cut(sum(stream.samples_V, d.samples_V));
            // Noise as slow as a charge, and noisy hum, give runs of their own until a real one shows what a
            // charge is.
            const std::string_view name = d.name;
            if (name.starts_with("noise over ") || name == "hum in noise")
                ASSERT_GE(runs.size(), 1u);
            else
                ASSERT_EQ(runs.size(), 1u) << d.name << ", seed " << seed;
            EXPECT_NEAR(runs.back().height, 5000, 350) << d.name;
            EXPECT_NEAR(static_cast<double>(runs.back().last_high), quiet + 1020, 30) << d.name;
        }
}

TEST(QuietStream, OfShortMemoryGivesNoRun) {
    for (std::uint64_t seed = 1; seed <= 20; ++seed)
        for (const Disturbance& d : disturbances(300000, seed)) {
            // Alone, noise that rises, stays and falls cannot be told from a small charge.
            const std::string_view name = d.name;
            if (name.starts_with("noise over ") || name == "hum in noise") continue;
            EXPECT_LE(cut(d.samples_V).size(), name == "a flickering last digit" ? 1u : 0u)
                << name << ", seed " << seed;
        }
}

TEST(QuietStream, TooShortToSayAnythingGivesNoRun) {
    for (std::size_t samples = 0; samples < 40; ++samples) {
        EXPECT_TRUE(cut(std::vector<double>(samples, 3.0)).empty()) << samples;
        for (std::uint64_t seed = 1; seed <= 50; ++seed)
            EXPECT_LE(cut(noise(samples, 1, 0, seed)).size(), 2u) << samples;
    }
}

TEST(QuietStream, MayDriftBeforeTheCharge) {
    // A zero that wanders by 2 % of the charge within half a million samples.
    BenchStream stream;
    stream.rest(400000).ramp(5000, 20).hold(1000).fall(200, 8000).rest(100000);
    for (std::size_t i = 0; i < stream.samples_V.size(); ++i)
        stream.samples_V[i] += 100 * static_cast<double>(i) / static_cast<double>(stream.samples_V.size());
    const auto runs = cut(sum(stream.samples_V, noise(stream.samples_V.size(), 5, 0, 3)));
    ASSERT_EQ(runs.size(), 1u);
    EXPECT_NEAR(static_cast<double>(runs[0].charge_start), 400000, 5);
}

}  // namespace
}  // namespace ebbtide::trace
