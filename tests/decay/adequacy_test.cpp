#include "decay/adequacy.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <functional>
#include <numbers>
#include <random>

#include "decay/law.hpp"

namespace ebbtide::decay {
namespace {

struct Record {
    int samples = 300;
    double noise_V = 10;
    double correlation_s = 0;
    bool by_decades = false;  ///< samples from 5 ms to 5 s, as many in each decade
    std::uint64_t seed = 1;
};

fit::CurveStore record_of(const std::function<double(double)>& fall, const Record& record) {
    std::mt19937_64 random(record.seed);
    std::normal_distribution<double> normal;
    fit::CurveStore out;
    double noise = normal(random);
    for (int i = 0; i < record.samples; ++i) {
        out.x.push_back(record.by_decades ? 0.005 * std::pow(1000.0, i / (record.samples - 1.0))
                                          : 5.0 * i / record.samples);
        if (i > 0) {
            const double gap_s = out.x[out.x.size() - 1] - out.x[out.x.size() - 2];
            const double keep = record.correlation_s > 0 ? std::exp(-gap_s / record.correlation_s) : 0;
            noise = keep * noise + std::sqrt(1 - keep * keep) * normal(random);
        }
        out.y.push_back(fall(out.x.back()) + record.noise_V * noise);
    }
    return out;
}

std::optional<Adequacy> judged(LawKind kind, const fit::CurveStore& curve) {
    const fit::Law law = law_of(kind, {});
    return judge_adequacy(law, fit::fit(law, curve.view(), {fit::Scatter::from_residuals}), curve.view());
}

/// Of 20 records, how many the law is called inadequate for.
int found(LawKind kind, const std::function<double(double)>& fall, Record record) {
    int out = 0;
    for (std::uint64_t seed = 1; seed <= 20; ++seed) {
        record.seed = seed;
        const auto adequacy = judged(kind, record_of(fall, record));
        out += adequacy && !adequacy->adequate;
    }
    return out;
}

double exponential(double t) {
    return 1000 * std::exp(-t);
}
double two_exponentials(double t) {
    return 500 * std::exp(-t / 0.4) + 500 * std::exp(-t / 1.6);
}
double stretched(double t) {
    return 1000 * std::exp(-std::pow(t / 0.8, 0.6));
}

TEST(Adequacy, SeesTwoExponentialsInOneUnderOnePercentNoise) {
    for (const double correlation_s : {0.0, 0.02})
        for (const bool by_decades : {false, true})
            for (const int samples : {300, 3000})
                EXPECT_EQ(
                    found(LawKind::exponential, two_exponentials,
                          {.samples = samples, .correlation_s = correlation_s, .by_decades = by_decades}),
                    20)
                    << samples << " " << correlation_s << " " << by_decades;
    EXPECT_GE(found(LawKind::exponential, two_exponentials, {.samples = 64}), 16);
}

TEST(Adequacy, SeesAStretchedFallInFewSamples) {
    EXPECT_EQ(found(LawKind::exponential, stretched, {.samples = 64}), 20);
    EXPECT_EQ(found(LawKind::exponential, stretched, {.samples = 30, .by_decades = true}), 20);
    EXPECT_EQ(found(LawKind::exponential, stretched, {.samples = 30, .noise_V = 3}), 20);
}

TEST(Adequacy, SeesAStepAndHum) {
    const auto step = [](double t) { return exponential(t) + (t > 2.5 ? 30 : 0); };
    const auto wave = [](double t) {
        return exponential(t) + 10 * std::sin(2 * std::numbers::pi * t / 0.31);
    };
    const auto hum = [](double t) { return exponential(t) + 15 * std::sin(2 * std::numbers::pi * 50.3 * t); };
    EXPECT_EQ(found(LawKind::exponential, step, {.samples = 3000}), 20);
    EXPECT_EQ(found(LawKind::exponential, wave, {.samples = 3000}), 20);
    EXPECT_EQ(found(LawKind::exponential, hum, {.samples = 3000}), 20);
    EXPECT_EQ(found(LawKind::exponential, hum, {.samples = 3000, .correlation_s = 0.01}), 20);
}

TEST(Adequacy, SaysInWordsWhatSpeaksAgainstTheLaw) {
    const auto bad = judged(LawKind::exponential, record_of(stretched, {.samples = 300}));
    ASSERT_TRUE(bad.has_value());
    EXPECT_NE(bad->doubt.find("the residuals leave a wave: near 0.0"), std::string::npos) << bad->doubt;
    EXPECT_NE(bad->doubt.find("times its noise"), std::string::npos) << bad->doubt;
    const auto good = judged(LawKind::stretched, record_of(stretched, {.samples = 300}));
    ASSERT_TRUE(good.has_value());
    EXPECT_TRUE(good->adequate) << good->doubt;
    EXPECT_TRUE(good->doubt.empty());
}

TEST(Adequacy, TakesNeitherRoundingNorTheRecordersStepForAWave) {
    for (const double step_V : {0.0, 1.0, 20.0}) {
        fit::CurveStore curve = record_of(exponential, {.samples = 2000, .noise_V = 0});
        for (double& y : curve.y) y = step_V > 0 ? step_V * std::round(y / step_V) : y;
        const auto adequacy = judged(LawKind::exponential, curve);
        ASSERT_TRUE(adequacy.has_value());
        EXPECT_TRUE(adequacy->adequate) << step_V << " " << adequacy->doubt;
    }
}

TEST(Adequacy, IsTheSameInOtherUnits) {
    const fit::CurveStore volts = record_of(stretched, {.samples = 200});
    fit::CurveStore other = volts;
    for (double& y : other.y) y /= 1024;
    for (double& x : other.x) x *= 4096;
    const auto a = judged(LawKind::exponential, volts), b = judged(LawKind::exponential, other);
    EXPECT_NEAR(a->chance, b->chance, 1e-6 * a->chance);
}

TEST(Adequacy, IsNotJudgedWhereNobodyCanSay) {
    EXPECT_FALSE(judged(LawKind::exponential, record_of(exponential, {.samples = 9})).has_value());
    EXPECT_FALSE(judged(LawKind::two_exponentials, record_of(two_exponentials, {.samples = 11, .noise_V = 1}))
                     .has_value());
    const fit::Law law = law_of(LawKind::exponential, {});
    EXPECT_FALSE(judge_adequacy(law, {}, record_of(exponential, {}).view()).has_value());
}

}  // namespace
}  // namespace ebbtide::decay
