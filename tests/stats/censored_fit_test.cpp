// Times that are only bounds: what they do to shares, laws and intervals.

#include "stats/censored_fit.hpp"

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include <algorithm>
#include <cmath>
#include <random>
#include <vector>

#include "stats/kaplan_meier.hpp"
#include "stats/profile_interval.hpp"
#include "stats/turnbull.hpp"
#include "support/agrees.hpp"

namespace ebbtide::stats {
namespace {

using testing_support::agrees;

std::vector<Observation> mixed_lot(unsigned seed) {
    std::mt19937_64 generator(seed);
    std::normal_distribution<double> normal;
    std::vector<Observation> out;
    for (int i = 0; i < 24; ++i) {
        const double time = std::exp(0.4 * normal(generator));
        if (time > 1.4)
            out.push_back(at_least(1.4));
        else if (time < 0.7)
            out.push_back(at_most(0.7));
        else if (i % 3 == 0)
            out.push_back(between(std::floor(time * 5) / 5, std::floor(time * 5) / 5 + 0.2));
        else
            out.push_back(exactly(time));
    }
    return out;
}

std::vector<Observation> scaled(std::vector<Observation> sample, double factor) {
    for (Observation& one : sample) {
        one.value *= factor;
        one.upper *= factor;
    }
    return sample;
}

TEST(Sample, NamesTheValueThatIsNone) {
    const std::vector<std::pair<Observation, const char*>> wrong{
        {exactly(0), "no time above zero"},        {at_least(-1), "no time above zero"},
        {exactly(std::nan("")), "no time"},        {at_most(INFINITY), "no time"},
        {between(2, 1), "is not above the lower"}, {between(1, NAN), "is not above the lower"},
        {exactly(1, 0), "no number of specimens"}};
    for (const auto& one : wrong) {
        const std::vector<Observation> sample{exactly(1), one.first};
        const auto checked = check(sample);
        ASSERT_FALSE(checked);
        EXPECT_EQ(checked.error().where, "value 2");
        EXPECT_NE(checked.error().what.find(one.second), std::string::npos) << checked.error().what;
    }
    EXPECT_FALSE(check({}));
    EXPECT_TRUE(check(mixed_lot(1)));
}

TEST(CensoredFit, OfTimesAllKnownIsMeanAndStandardDeviationOfTheLogarithms) {
    const std::vector<double> times{0.31, 0.52, 0.28, 0.9, 0.47};
    std::vector<Observation> sample;
    double mean = 0, squares = 0;
    for (const double time : times) {
        sample.push_back(exactly(time));
        mean += std::log(time) / 5;
    }
    for (const double time : times) squares += std::pow(std::log(time) - mean, 2);
    const CensoredFit fit = fit_censored(sample, Family::lognormal);
    ASSERT_TRUE(fit.fitted());
    EXPECT_NEAR(fit.location, mean, 1e-14);
    EXPECT_NEAR(fit.scale, std::sqrt(squares / 5), 1e-14);
    EXPECT_NEAR(fit.variance_location, squares / 25, 1e-14);
    EXPECT_NEAR(fit.variance_log_scale, 0.1, 1e-12);  // 1/(2 n)
    EXPECT_NEAR(fit.covariance, 0, 1e-14);
}

TEST(CensoredFit, DependsNeitherOnUnitsNorOnOrderNorOnCounting) {
    for (const Family family : {Family::lognormal, Family::weibull})
        for (const unsigned seed : {1u, 2u, 3u}) {
            std::vector<Observation> sample = mixed_lot(seed);
            const CensoredFit fit = fit_censored(sample, family);
            ASSERT_TRUE(fit.fitted());
            const CensoredFit in_us = fit_censored(scaled(sample, 1e6), family);
            EXPECT_NEAR(in_us.location, fit.location + std::log(1e6), 1e-10);
            EXPECT_NEAR(in_us.scale, fit.scale, 1e-10);
            EXPECT_NEAR(in_us.variance_location, fit.variance_location, 1e-9);
            std::ranges::reverse(sample);
            EXPECT_NEAR(fit_censored(sample, family).location, fit.location, 1e-11);
            std::vector<Observation> twice = sample, counted = sample;
            twice.insert(twice.end(), sample.begin(), sample.end());
            for (Observation& one : counted) one.count = 2;
            const CensoredFit doubled = fit_censored(twice, family), weighed = fit_censored(counted, family);
            EXPECT_NEAR(doubled.location, fit.location, 1e-11);
            EXPECT_NEAR(doubled.variance_location, fit.variance_location / 2, 1e-11);
            EXPECT_NEAR(weighed.log_likelihood, doubled.log_likelihood, 1e-10);
        }
}

// Slopes and curvatures against differences of the value: every kind of bound, near and in the tails.
TEST(CensoredFit, ClimbsByTrueSlopes) {
    const std::vector<Observation> kinds{exactly(1.3),      at_least(0.8),       at_most(2.0),
                                         between(0.5, 4.0), between(1.0, 1.001), between(1e-4, 2e-4),
                                         between(20, 90)};
    for (const Family family : {Family::lognormal, Family::weibull})
        for (const Observation& one : kinds) {
            const std::vector<Observation> sample{one, exactly(0.9), exactly(2.2)};
            const LogSample log_sample(sample, family);
            for (const double rate : {0.3, 1.0, 3.0})
                for (const double shift : {-1.5, 0.0, 1.0}) {
                    constexpr double h = 1e-5;
                    const LogLikelihood at = log_sample.at(rate, shift);
                    const LogLikelihood up = log_sample.at(rate + h, shift),
                                        down = log_sample.at(rate - h, shift);
                    const LogLikelihood right = log_sample.at(rate, shift + h),
                                        left = log_sample.at(rate, shift - h);
                    const auto near = [&](double found, double wanted) {
                        // The difference's own rounding and its third-order rest.
                        EXPECT_NEAR(found, wanted, 1e-5 * (1 + std::abs(wanted)) + 1e-9 * std::abs(at.value))
                            << "kind " << &one - kinds.data() << " rate " << rate << " shift " << shift;
                    };
                    near(at.by_rate, (up.value - down.value) / (2 * h));
                    near(at.by_shift, (right.value - left.value) / (2 * h));
                    near(at.rate_rate, (up.by_rate - down.by_rate) / (2 * h));
                    near(at.rate_shift, (right.by_rate - left.by_rate) / (2 * h));
                    near(at.shift_shift, (right.by_shift - left.by_shift) / (2 * h));
                }
        }
}

// An interval a ten-thousandth wide is as good as its middle: density times width.
TEST(CensoredFit, OfNarrowIntervalsIsThatOfTheirMiddles) {
    std::vector<Observation> exact, narrow;
    double log_widths = 0;
    for (const double time : {0.3, 0.5, 0.8, 1.1, 2.0}) {
        exact.push_back(exactly(time));
        narrow.push_back(between(time * (1 - 5e-5), time * (1 + 5e-5)));
        log_widths += std::log(time * 1e-4);
    }
    for (const Family family : {Family::lognormal, Family::weibull}) {
        const CensoredFit a = fit_censored(exact, family), b = fit_censored(narrow, family);
        EXPECT_NEAR(a.location, b.location, 1e-8);
        EXPECT_NEAR(a.scale, b.scale, 1e-8);
        EXPECT_NEAR(a.variance_location, b.variance_location, 1e-8);
        EXPECT_NEAR(a.log_likelihood + log_widths, b.log_likelihood, 1e-7);
    }
}

TEST(CensoredFit, SaysWhyThereIsNone) {
    const auto outcome = [](const std::vector<Observation>& sample) {
        const CensoredFit weibull = fit_censored(sample, Family::weibull);
        const CensoredFit lognormal = fit_censored(sample, Family::lognormal);
        EXPECT_EQ(weibull.outcome, lognormal.outcome);
        EXPECT_EQ(lognormal.fitted(), in_words(lognormal.outcome).empty());
        return lognormal.outcome;
    };
    EXPECT_EQ(outcome({exactly(1)}), FitOutcome::one_time_explains_all);
    EXPECT_EQ(outcome({exactly(1), exactly(1), exactly(1)}), FitOutcome::one_time_explains_all);
    EXPECT_EQ(outcome({at_least(1), at_least(2), at_least(5)}), FitOutcome::one_time_explains_all);
    EXPECT_EQ(outcome({at_most(1), at_most(2)}), FitOutcome::one_time_explains_all);
    EXPECT_EQ(outcome({at_least(1), at_most(2)}), FitOutcome::one_time_explains_all);
    EXPECT_EQ(outcome({exactly(2), at_least(1), at_least(2)}), FitOutcome::one_time_explains_all);
    EXPECT_EQ(outcome({between(1, 2), between(2, 3)}), FitOutcome::one_time_explains_all);
    EXPECT_EQ(outcome({at_most(1), at_least(2)}), FitOutcome::only_bounds_apart);
    // Here the surface is flat long before the spread has no end: a law hundreds of decades wide is none.
    const auto e = [](double ln) { return std::exp(ln); };
    EXPECT_EQ(outcome({at_least(e(-2.2)), at_most(e(-2.4)), at_most(e(-2.7)), at_most(e(-2.4)),
                       at_most(e(-2.9)), at_least(e(-3.0))}),
              FitOutcome::only_bounds_apart);
    EXPECT_EQ(outcome({exactly(1), at_least(1.5)}), FitOutcome::fitted);
    EXPECT_EQ(outcome({exactly(1), exactly(1.0000001)}), FitOutcome::fitted);
    EXPECT_EQ(outcome({between(1, 2), between(3, 4)}), FitOutcome::fitted);
    EXPECT_EQ(CensoredFit{}.outcome, FitOutcome::not_tried);
}

TEST(CensoredFit, BearsLotsThatAreMostlyBoundsAndFarApart) {
    for (const Family family : {Family::lognormal, Family::weibull}) {
        std::vector<Observation> sample{exactly(1e-3), exactly(1e3)};
        for (int i = 0; i < 200; ++i) sample.push_back(at_least(2e3));
        EXPECT_TRUE(fit_censored(sample, family).fitted());
        for (int i = 0; i < 200; ++i) sample.push_back(at_most(1e-4));
        EXPECT_TRUE(fit_censored(sample, family).fitted());
        std::vector<Observation> close{exactly(1), exactly(1 + 1e-12), exactly(1 - 1e-12)};
        EXPECT_TRUE(fit_censored(close, family).fitted());
    }
}

// Student's interval of the mean of the logarithms, by its own formula; t(0.975, 4) = 2.776445 (any table).
TEST(ProfileInterval, OfMuIsStudentsWhereAllTimesAreKnown) {
    std::vector<Observation> sample;
    double mean = 0, squares = 0;
    for (const double x : {-0.3, 0.1, 0.4, -0.9, 0.2}) {
        sample.push_back(exactly(std::exp(x)));
        mean += x / 5;
    }
    for (const double x : {-0.3, 0.1, 0.4, -0.9, 0.2}) squares += (x - mean) * (x - mean);
    const LogSample log_sample(sample, Family::lognormal);
    const CensoredFit fit = fit_censored(log_sample);
    const ConfidenceInterval found = interval_of_location(log_sample, fit, likelihood_fall(0.95, 5));
    const double reach = 2.776445 * std::sqrt(squares / 4 / 5);
    EXPECT_NEAR(*found.low, mean - reach, 1e-6);
    EXPECT_NEAR(*found.high, mean + reach, 1e-6);
}

TEST(ProfileInterval, EndsWhereTheLikelihoodHasFallenAndSharesMirrorQuantiles) {
    for (const Family family : {Family::lognormal, Family::weibull})
        for (const unsigned seed : {4u, 5u, 6u}) {
            const LogSample sample(mixed_lot(seed), family);
            const CensoredFit fit = fit_censored(sample);
            const double fall = likelihood_fall(0.95);
            EXPECT_TRUE(agrees(fall, "1.9207"));  // 3.8415/2, any table of chi-squared
            const ConfidenceInterval quantile = interval_of_log_quantile(sample, fit, 0.9, fall);
            ASSERT_TRUE(quantile.low && quantile.high);
            EXPECT_LT(*quantile.low, fit.log_quantile(0.9));
            EXPECT_GT(*quantile.high, fit.log_quantile(0.9));
            // That 90 % take at most t, at the end of the interval, is that a tenth takes longer there.
            const double end_s = std::exp(*quantile.high);
            EXPECT_NEAR(*interval_of_share_beyond(sample, fit, end_s, fall).high, 0.1, 1e-7);
            const double start_s = std::exp(*quantile.low);
            EXPECT_NEAR(*interval_of_share_beyond(sample, fit, start_s, fall).low, 0.1, 1e-7);
            const ConfidenceInterval location = interval_of_location(sample, fit, fall);
            const ConfidenceInterval scale = interval_of_scale(sample, fit, fall);
            EXPECT_TRUE(*location.low < fit.location && fit.location < *location.high);
            EXPECT_TRUE(*scale.low < fit.scale && fit.scale<*scale.high&& * scale.low> 0);
        }
}

TEST(ProfileInterval, HasNoUpperEndWhereNothingBoundsIt) {
    // Bounds alone, apart the right way round for a fit, but thin: a very large spread is nearly as likely.
    const LogSample sample(std::vector<Observation>{at_most(1), at_least(0.9), at_least(1.1), at_most(1.2)},
                           Family::lognormal);
    const CensoredFit fit = fit_censored(sample);
    if (fit.fitted()) {
        EXPECT_FALSE(interval_of_scale(sample, fit, likelihood_fall(0.95)).high);
    } else {
        EXPECT_EQ(fit.outcome, FitOutcome::only_bounds_apart);
    }
}

TEST(KaplanMeier, DoesNotTakeALowerBoundForAnEnd) {
    const auto steps =
        kaplan_meier(std::vector<Observation>{exactly(1), at_least(2), exactly(3), at_least(3)});
    ASSERT_TRUE(steps && steps->size() == 2);
    EXPECT_EQ((*steps)[0].survival, 0.75);
    EXPECT_EQ((*steps)[1].at_risk, 2);  // the bound at 3 is still at risk there
    EXPECT_EQ((*steps)[1].survival, 0.375);
    EXPECT_FALSE(kaplan_meier(std::vector<Observation>{exactly(1), at_most(2)}));
    EXPECT_TRUE(kaplan_meier(std::vector<Observation>{at_least(1)})->empty());
}

TEST(KaplanMeier, BoundsStayWithinNothingAndAll) {
    const auto steps =
        kaplan_meier(std::vector<Observation>{exactly(1), exactly(2), exactly(3), at_least(4)});
    for (const SurvivalStep& step : *steps) {
        const ConfidenceInterval bounds = log_log_bounds(step, 1.96);
        EXPECT_TRUE(*bounds.low > 0 && *bounds.low < step.survival);
        EXPECT_TRUE(*bounds.high < 1 && *bounds.high > step.survival);
    }
    const auto all = kaplan_meier(std::vector<Observation>{exactly(1), exactly(2)});
    EXPECT_FALSE(log_log_bounds(all->back(), 1.96).low);
}

TEST(Turnbull, IsTheProductLimitWhereOnlyLowerBoundsAre) {
    std::mt19937_64 generator(7);
    std::exponential_distribution<double> time;
    for (int lot = 0; lot < 50; ++lot) {
        std::vector<Observation> sample;
        for (int i = 0; i < 15; ++i) {
            const double value = std::ceil(time(generator) * 10) / 10;  // with ties
            sample.push_back(value > 1.2 ? at_least(1.2) : i % 4 == 0 ? at_least(value) : exactly(value));
        }
        const auto steps = kaplan_meier(sample);
        const TurnbullEstimate estimate = turnbull(sample);
        EXPECT_TRUE(estimate.converged);
        for (const SurvivalStep& step : *steps) {
            const auto portion = std::ranges::find_if(estimate.portions, [&](const Portion& one) {
                return one.from == step.time && one.to == step.time;
            });
            ASSERT_NE(portion, estimate.portions.end());
            EXPECT_NEAR(portion->survival, step.survival, 1e-6);
        }
    }
}

// By hand: (0, 2], (1, 3] and [2.5, 2.5] overlap in (1, 2] and at 2.5; the first can only lie in (1, 2], the
// last only at 2.5, and the second is spread so that 1/3 + x/3 and 2/3 - x/3 agree with x: any x in between
// has the likelihood p (p + q) q with p + q = 1, largest at one half each.
TEST(Turnbull, SpreadsAnIntervalOverWhatItSharesWithOthers) {
    const TurnbullEstimate estimate =
        turnbull(std::vector<Observation>{at_most(2), between(1, 3), exactly(2.5)});
    ASSERT_EQ(estimate.portions.size(), 2u);
    EXPECT_EQ(estimate.portions[0].from, 1);
    EXPECT_EQ(estimate.portions[0].to, 2);
    EXPECT_EQ(estimate.portions[1].from, 2.5);
    EXPECT_EQ(estimate.portions[1].to, 2.5);
    EXPECT_NEAR(estimate.portions[0].share, 0.5, 1e-8);
    EXPECT_NEAR(estimate.log_likelihood, 2 * std::log(0.5), 1e-8);
}

// By hand: at 2 two of four are surely longer and one surely not; Clopper and Pearson of 2 and of 3 of 4 (R
// 4.2.2, binom.test(): 0.0675860, and 0.9936905).
TEST(Turnbull, HasBoundsByCountingWhatIsSure) {
    const std::vector<Observation> sample{exactly(1), between(1.5, 2.5), at_least(2), exactly(4)};
    const ConfidenceInterval bounds = counted_bounds(sample, 2, 0.95);
    EXPECT_TRUE(agrees(*bounds.low, "0.0675860"));
    EXPECT_TRUE(agrees(*bounds.high, "0.9936905"));
}

TEST(Turnbull, LeavesWhatLiesBeyondTheLastBoundWithoutAnEnd) {
    const TurnbullEstimate estimate = turnbull(std::vector<Observation>{between(1, 2), at_least(3)});
    ASSERT_EQ(estimate.portions.size(), 2u);
    EXPECT_EQ(estimate.portions[1].from, 3);
    EXPECT_FALSE(estimate.portions[1].to);
    EXPECT_NEAR(estimate.portions[0].survival, 0.5, 1e-9);
}

/// Times over thirty decades, with ties, of every kind.
std::vector<Observation> any_lot() {
    std::vector<Observation> out;
    const int count = *rc::gen::inRange(1, 25);
    for (int i = 0; i < count; ++i) {
        const double time = std::exp(*rc::gen::inRange(-60, 60) / *rc::gen::element(1.0, 8.0, 40.0));
        switch (*rc::gen::inRange(0, 4)) {
            case 0:
                out.push_back(exactly(time));
                break;
            case 1:
                out.push_back(at_least(time));
                break;
            case 2:
                out.push_back(at_most(time));
                break;
            default:
                out.push_back(between(time, time * (1 + std::exp(*rc::gen::inRange(-30, 5)))));
        }
    }
    return out;
}

RC_GTEST_PROP(CensoredFit, IsFiniteOrSaysWhyNotForAnyLot, ()) {
    const std::vector<Observation> lot = any_lot();
    RC_PRE(check(lot).ok());
    for (const Family family : {Family::lognormal, Family::weibull}) {
        const LogSample sample(lot, family);
        const CensoredFit fit = fit_censored(sample);
        RC_ASSERT(fit.outcome != FitOutcome::not_tried);
        RC_ASSERT(fit.outcome != FitOutcome::stalled);
        if (!fit.fitted()) continue;
        RC_ASSERT(std::isfinite(fit.location) && fit.scale > 0 && std::isfinite(fit.scale));
        RC_ASSERT(fit.variance_location > 0 && fit.variance_log_scale > 0);
        const double fall = likelihood_fall(0.95, count_of(lot));
        const ConfidenceInterval location = interval_of_location(sample, fit, fall);
        RC_ASSERT(!location.low || *location.low < fit.location);
        RC_ASSERT(!location.high || *location.high > fit.location);
        const ConfidenceInterval scale = interval_of_scale(sample, fit, fall);
        RC_ASSERT(!scale.low || (*scale.low > 0 && *scale.low < fit.scale));
        RC_ASSERT(!scale.high || *scale.high > fit.scale);
    }
}

RC_GTEST_PROP(Turnbull, ReachesItsOwnProofForAnyLot, ()) {
    const std::vector<Observation> lot = any_lot();
    RC_PRE(check(lot).ok());
    const TurnbullEstimate estimate = turnbull(lot);
    double all = 0;
    for (const Portion& portion : estimate.portions) all += portion.share;
    RC_ASSERT(std::abs(all - 1) < 1e-9);
    RC_ASSERT(estimate.converged);
}

}  // namespace
}  // namespace ebbtide::stats
