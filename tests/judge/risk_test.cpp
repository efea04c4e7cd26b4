// How risks must behave, whatever the figures.

#include "judge/risk.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <algorithm>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>
#include <random>

namespace ebbtide::judge {
namespace {

rc::Gen<double> between(double low, double high) {
    return rc::gen::map(rc::gen::inRange(0, 1000001),
                        [=](int step) { return low + (high - low) * step / 1e6; });
}

std::optional<double> some_freedom() {
    const int freedom = *rc::gen::inRange(0, 60);
    return freedom == 0 ? std::nullopt : std::optional(1.0 * freedom);
}

RC_GTEST_PROP(SpecificRisk, AcceptanceAndRejectionShareOne, ()) {
    const Estimate estimate{*between(-3, 3), *between(0.01, 5), some_freedom()};
    const double a = *between(-4, 4), b = *between(-4, 4);
    RC_PRE(a != b);
    for (const Limits& limits : {Limits{{}, a}, Limits{a, {}}, Limits{std::min(a, b), std::max(a, b)}}) {
        const double within = probability_within(estimate, limits),
                     beyond = probability_beyond(estimate, limits);
        RC_ASSERT(std::abs(within + beyond - 1) < 1e-12);
        RC_ASSERT(within >= 0 && within <= 1 && beyond >= 0 && beyond <= 1);
    }
}

RC_GTEST_PROP(SpecificRisk, IsTheSameInAMirrorAndInEveryUnit, ()) {
    const Estimate estimate{*between(-3, 3), *between(0.01, 5), some_freedom()};
    const double limit = *between(-4, 4), factor = *between(1e-3, 1e3);
    const double risk = probability_beyond(estimate, {{}, limit});
    const Estimate mirrored{-estimate.value, estimate.u, estimate.degrees_of_freedom};
    RC_ASSERT(std::abs(probability_beyond(mirrored, {-limit, {}}) - risk) < 1e-13);
    const Estimate scaled{factor * estimate.value, factor * estimate.u, estimate.degrees_of_freedom};
    RC_ASSERT(std::abs(probability_beyond(scaled, {{}, factor * limit}) - risk) < 1e-12);
}

RC_GTEST_PROP(SpecificRisk, FallsAsTheValueMovesInside, ()) {
    const double u = *between(0.01, 5);
    const auto freedom = some_freedom();
    const double near = *between(0, 3), further = near + *between(0.01, 1);
    RC_ASSERT(probability_beyond({-further, u, freedom}, {{}, 0.0}) <
              probability_beyond({-near, u, freedom}, {{}, 0.0}));
}

// The one thing that a guard band of U promises: 2.5 %, also with few degrees of freedom.
TEST(SpecificRisk, AtAGuardBandOfUIsTwoAndAHalfPercentForAnyFreedom) {
    for (const double freedom : {1.0, 2.0, 3.7, 12.8, 100.0, 1e5}) {
        const double U = boost::math::quantile(boost::math::students_t(freedom), 0.975) * 0.02;
        EXPECT_NEAR(probability_beyond({0.5 - U, 0.02, freedom}, {{}, 0.5}), 0.025, 1e-9) << freedom;
    }
}

TEST(SpecificRisk, KeepsItsDigitsFarOut) {
    // 1 - Phi(8) is 6.22e-16 (normal tables); a difference from 1 would have lost it.
    EXPECT_NEAR(probability_beyond({0, 1}, {{}, 8.0}), 6.22e-16, 0.005e-16);
    EXPECT_NEAR(probability_within({8, 1}, {-1.0, 0.0}), 6.22e-16, 0.01e-16);
}

TEST(SpecificRisk, OfAValueWithoutUncertaintyIsPlain) {
    EXPECT_EQ(probability_beyond({0.5, 0}, {{}, 0.5}), 0);
    EXPECT_EQ(probability_beyond({0.51, 0}, {{}, 0.5}), 1);
    EXPECT_EQ(probability_within({0.51, 0}, {{}, 0.5}), 0);
}

RC_GTEST_PROP(GlobalRisk, ConsumersFallsAndProducersRisesWithTheGuardBand, ()) {
    const Prior prior{*between(-2, 2), *between(0.1, 3)};
    const double u = *between(0.02, 2), w = *between(0, 0.5), more = w + *between(0.01, 0.4);
    for (const Limits& limits : {Limits{{}, 1.0}, Limits{-1.0, {}}, Limits{-1.0, 1.0}}) {
        const GlobalRisk narrow = global_risk(prior, u, limits, w),
                         wide = global_risk(prior, u, limits, more);
        RC_ASSERT(wide.consumer <= narrow.consumer + 1e-10);
        RC_ASSERT(wide.producer >= narrow.producer - 1e-10);
    }
}

RC_GTEST_PROP(GlobalRisk, IsTheSameInAMirrorAndInEveryUnit, ()) {
    const Prior prior{*between(-2, 2), *between(0.1, 3)};
    const double u = *between(0.02, 2), w = *between(0, 0.5), factor = *between(1e-3, 1e3);
    const GlobalRisk risk = global_risk(prior, u, {{}, 1.0}, w);
    const GlobalRisk mirrored = global_risk({-prior.mean, prior.standard_deviation}, u, {-1.0, {}}, w);
    const GlobalRisk scaled = global_risk({factor * prior.mean, factor * prior.standard_deviation},
                                          factor * u, {{}, factor}, factor * w);
    for (const GlobalRisk& other : {mirrored, scaled}) {
        RC_ASSERT(std::abs(other.consumer - risk.consumer) < 1e-9);
        RC_ASSERT(std::abs(other.producer - risk.producer) < 1e-9);
    }
}

// What is accepted is known in closed form: the measured value is normal with the two variances added.
// Accepted = conforming - wrongly rejected + wrongly accepted, so the two integrals are checked to the last
// digits.
RC_GTEST_PROP(GlobalRisk, OfBothPartiesMakesTheShareThatIsAccepted, ()) {
    const Prior prior{*between(-2, 2), *between(0.01, 3)};
    const double u = *between(0.0001, 3), w = *between(-0.2, 0.6);
    for (const Limits& limits : {Limits{{}, 1.0}, Limits{-1.0, {}}, Limits{-1.0, 1.0}}) {
        const GlobalRisk risk = global_risk(prior, u, limits, w);
        const Limits accepted{limits.lower ? std::optional(*limits.lower + w) : std::nullopt,
                              limits.upper ? std::optional(*limits.upper - w) : std::nullopt};
        const double measured = std::hypot(prior.standard_deviation, u);
        const double share = probability_within({prior.mean, measured, {}}, accepted);
        const double conforming = probability_within({prior.mean, prior.standard_deviation, {}}, limits);
        RC_ASSERT(std::abs(conforming - risk.producer + risk.consumer - share) < 1e-9);
        RC_ASSERT(risk.consumer >= 0 && risk.producer >= 0);
    }
}

RC_GTEST_PROP(GlobalRisk, HoldsWhereOneScatterDwarfsTheOther, ()) {
    const Prior prior{*between(-2, 2), std::pow(10, *between(-7, 3))};
    const double u = std::pow(10, *between(-9, 3)), w = *between(0, 0.6);
    const GlobalRisk risk = global_risk(prior, u, {{}, 1.0}, w);
    const double share =
        probability_within({prior.mean, std::hypot(prior.standard_deviation, u), {}}, {{}, 1 - w});
    const double conforming = probability_within({prior.mean, prior.standard_deviation, {}}, {{}, 1.0});
    RC_ASSERT(std::abs(conforming - risk.producer + risk.consumer - share) < 1e-9);
}

TEST(GlobalRisk, WithoutMeasurementErrorIsWhatTheGuardBandRefuses) {
    const GlobalRisk plain = global_risk({0, 1}, 0, {{}, 1.0}, 0);
    EXPECT_NEAR(plain.consumer, 0, 1e-12);
    EXPECT_NEAR(plain.producer, 0, 1e-9);
    const GlobalRisk guarded = global_risk({0, 1}, 0, {{}, 1.0}, 0.3);
    EXPECT_NEAR(guarded.producer, probability_within({0, 1}, {0.7, 1.0}), 1e-9);
    EXPECT_EQ(global_risk({0, 1}, 0.1, {-1.0, 1.0}, 2).consumer, 0) << "nothing can be accepted";
    EXPECT_NEAR(global_risk({0, 1}, 0.1, {-1.0, 1.0}, 2).producer, probability_within({0, 1}, {-1.0, 1.0}),
                1e-12);
}

// By simulation: truth N(0.42, 0.05), u 0.02, limit 0.5, w 0.03; 1,000,000 pieces, seed 20260915, fixed
// before the first run. A share p of N pieces scatters by sqrt(p (1 - p)/N); four of these bound the
// difference (6e-5 of all seeds would fail on either risk).
TEST(GlobalRisk, AgreesWithAMillionSimulatedPieces) {
    constexpr int pieces = 1000000;
    std::mt19937_64 random(20260915);
    std::normal_distribution<double> truth(0.42, 0.05), error(0, 0.02);
    int wrongly_accepted = 0, wrongly_rejected = 0;
    for (int i = 0; i < pieces; ++i) {
        const double eta = truth(random), value = eta + error(random);
        const bool accepted = value <= 0.5 - 0.03, conforms = eta <= 0.5;
        wrongly_accepted += accepted && !conforms;
        wrongly_rejected += !accepted && conforms;
    }
    const GlobalRisk risk = global_risk({0.42, 0.05}, 0.02, {{}, 0.5}, 0.03);
    const auto expect_near = [](double expected, int count) {
        EXPECT_GT(count, 100) << "too few to say anything";
        EXPECT_NEAR(1.0 * count / pieces, expected, 4 * std::sqrt(expected * (1 - expected) / pieces));
    };
    expect_near(risk.consumer, wrongly_accepted);
    expect_near(risk.producer, wrongly_rejected);
}

}  // namespace
}  // namespace ebbtide::judge
