// Times that follow a group or a date, with bounds among them.

#include "stats/censored_regression.hpp"

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include <cmath>

#include "support/agrees.hpp"

namespace ebbtide::stats {
namespace {

using testing_support::agrees;

// scipy.stats.linregress of SciPy 1.10 on the same five values, of which tests/stats/lot_claims_test.cpp has
// the rest: slope 0.049, p 0.0037890079 (two-sided, 3 degrees of freedom).
TEST(CensoredRegression, IsOrdinaryRegressionWhereAllTimesAreKnown) {
    const std::vector<double> y{0.10, 0.13, 0.21, 0.22, 0.30};
    std::vector<Place> line, flat;
    for (std::size_t i = 0; i < y.size(); ++i) {
        line.push_back({{1, static_cast<double>(i)}, {exactly(std::exp(y[i]))}});
        flat.push_back({{1}, {exactly(std::exp(y[i]))}});
    }
    const RegressionFit with = fit_regression(line, Family::lognormal);
    ASSERT_TRUE(with.fitted());
    EXPECT_NEAR(with.slopes[1], 0.049, 1e-10);
    const LikelihoodRatio ratio = likelihood_ratio(with, fit_regression(flat, Family::lognormal), 5);
    EXPECT_TRUE(agrees(ratio.p, "0.0037890079"));
}

TEST(CensoredRegression, OfOneGroupIsTheFitOfALot) {
    const std::vector<Observation> lot{exactly(0.3), exactly(0.41), at_least(0.5), between(0.2, 0.25),
                                       at_most(0.2)};
    for (const Family family : {Family::lognormal, Family::weibull}) {
        const CensoredFit alone = fit_censored(lot, family);
        const RegressionFit fit = fit_regression(std::vector<Place>{{{1}, lot}}, family);
        ASSERT_TRUE(alone.fitted() && fit.fitted());
        EXPECT_NEAR(fit.slopes[0], alone.location, 1e-9);
        EXPECT_NEAR(fit.standard_errors[0], std::sqrt(alone.variance_location), 1e-9);
        EXPECT_NEAR(fit.scale, alone.scale, 1e-9);
        EXPECT_NEAR(fit.log_likelihood, alone.log_likelihood, 1e-9);
    }
}

TEST(CensoredRegression, SaysWhereAMeanHasNoEnd) {
    const std::vector<Observation> measured{exactly(0.3), exactly(0.4), exactly(0.35)},
        longer{at_least(0.5), at_least(0.5)};
    const auto outcome = [](const std::vector<Place>& places) {
        return fit_regression(places, Family::lognormal).outcome;
    };
    EXPECT_EQ(outcome({{{1, 0}, measured}, {{0, 1}, longer}}), FitOutcome::only_bounds_apart);
    EXPECT_EQ(outcome({{{1, 2}, measured}, {{1, 2}, measured}}), FitOutcome::only_bounds_apart);
    EXPECT_EQ(outcome({{{1, 0}, {exactly(1), exactly(1)}}, {{0, 1}, {exactly(2)}}}),
              FitOutcome::one_time_explains_all);
    EXPECT_EQ(outcome({}), FitOutcome::one_time_explains_all);
    EXPECT_EQ(outcome({{{1, 0}, {exactly(1)}}, {{1, 1}, {exactly(2)}}, {{1, 2}, {exactly(4)}}}),
              FitOutcome::one_time_explains_all);
}

RC_GTEST_PROP(CensoredRegression, IsFiniteOrSaysWhyNotForAnyGroups, ()) {
    std::vector<Place> places;
    const int groups = *rc::gen::inRange(1, 5);
    for (int g = 0; g < groups; ++g) {
        Place place{std::vector<double>(static_cast<std::size_t>(groups), 0.0), {}};
        place.covariates[static_cast<std::size_t>(g)] = 1;
        const int count = *rc::gen::inRange(1, 8);
        for (int i = 0; i < count; ++i) {
            const double time = std::exp(*rc::gen::inRange(-40, 40) / 10.0);
            const int kind = *rc::gen::inRange(0, 4);
            place.sample.push_back(kind == 0   ? at_least(time)
                                   : kind == 1 ? at_most(time)
                                   : kind == 2 ? between(time, 1.3 * time)
                                               : exactly(time));
        }
        places.push_back(std::move(place));
    }
    for (const Family family : {Family::lognormal, Family::weibull}) {
        const RegressionFit fit = fit_regression(places, family);
        RC_ASSERT(fit.outcome != FitOutcome::not_tried && fit.outcome != FitOutcome::stalled);
        if (!fit.fitted()) continue;
        RC_ASSERT(fit.scale > 0 && std::isfinite(fit.scale) && std::isfinite(fit.log_likelihood));
        for (std::size_t i = 0; i < fit.slopes.size(); ++i)
            RC_ASSERT(std::isfinite(fit.slopes[i]) && fit.standard_errors[i] > 0);
    }
}

}  // namespace
}  // namespace ebbtide::stats
