// The adaptive procedure does what clause 7.9 of JCGM 101:2008 says, on any number of threads.

#include "stats/monte_carlo.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include "lanes/random.hpp"
#include "support/agrees.hpp"

namespace ebbtide::stats {
namespace {

using testing_support::agrees;

void skewed(std::uint64_t first, std::span<double> values) {
    lanes::add_normal({11, 1}, first, 0.5, values);
    for (double& value : values) value = std::exp(value);
}

MonteCarloOptions exactly(std::size_t trials) {
    MonteCarloOptions options;
    options.least_trials = options.most_trials = trials;
    return options;
}

TEST(MonteCarlo, TakesItsFiguresFromAllTrialsAsSortingThemWould) {
    MonteCarloOptions options = exactly(50'000);
    options.shortest = true;
    const MonteCarloResult result = monte_carlo(skewed, options);
    ASSERT_EQ(result.trials, 50'000u);

    std::vector<double> all(50'000);
    skewed(0, all);
    double mean = 0, squares = 0;
    for (const double y : all) mean += y / 50'000;
    for (const double y : all) squares += (y - mean) * (y - mean);
    EXPECT_NEAR(result.mean, mean, 1e-12);
    EXPECT_NEAR(result.u, std::sqrt(squares / 49'999), 1e-12);
    std::ranges::sort(all);
    // 7.7.2 with p = 0.95: q = 47,500, r = 1,250, counted from 1.
    EXPECT_EQ(result.symmetric.low, all[1'250 - 1]);
    EXPECT_EQ(result.symmetric.high, all[1'250 + 47'500 - 1]);
    std::size_t best = 0;
    for (std::size_t r = 0; r + 47'500 < all.size(); ++r)
        if (all[r + 47'500] - all[r] < all[best + 47'500] - all[best]) best = r;
    EXPECT_EQ(result.shortest->low, all[best]);
    EXPECT_EQ(result.shortest->high, all[best + 47'500]);
}

TEST(MonteCarlo, GivesTheSameBitsOnAnyNumberOfThreads) {
    MonteCarloOptions options;
    options.shortest = true;
    const MonteCarloResult one = monte_carlo(skewed, options);
    for (const unsigned threads : {2u, 3u, 8u}) {
        options.threads = threads;
        const MonteCarloResult more = monte_carlo(skewed, options);
        EXPECT_EQ(more.trials, one.trials);
        EXPECT_EQ(more.mean, one.mean);
        EXPECT_EQ(more.u, one.u);
        EXPECT_EQ(more.symmetric.low, one.symmetric.low);
        EXPECT_EQ(more.symmetric.high, one.symmetric.high);
        EXPECT_EQ(more.shortest->low, one.shortest->low);
    }
}

TEST(MonteCarlo, StopsWhenTheDigitsHoldAndSaysSo) {
    MonteCarloOptions options;
    options.least_trials = 20'000;
    const MonteCarloResult two = monte_carlo(skewed, options);
    options.digits = 1;
    const MonteCarloResult one = monte_carlo(skewed, options);
    EXPECT_TRUE(two.stable);
    EXPECT_TRUE(one.stable);
    EXPECT_GT(two.trials, one.trials);
    options.digits = 6;
    const MonteCarloResult never = monte_carlo(skewed, options);
    EXPECT_FALSE(never.stable);
    EXPECT_EQ(never.trials, options.most_trials);
}

TEST(MonteCarlo, FindsTheEndsWhereTheFirstBlockMisleads) {
    // No model of trials alike does this; the ends must be right even so.
    const Model drifting = [](std::uint64_t first, std::span<double> values) {
        for (std::size_t i = 0; i < values.size(); ++i) {
            const std::uint64_t trial = first + i;
            values[i] = static_cast<double>(trial % 10'000) * (trial < 10'000 ? 100 : 1);
        }
    };
    const MonteCarloResult result = monte_carlo(drifting, exactly(100'000));
    std::vector<double> all(100'000);
    drifting(0, all);
    std::ranges::sort(all);
    EXPECT_EQ(result.symmetric.low, all[2'500 - 1]);
    EXPECT_EQ(result.symmetric.high, all[97'500 - 1]);
}

TEST(MonteCarlo, OfAModelThatNeverVariesHasNoUncertainty) {
    const MonteCarloResult result =
        monte_carlo([](std::uint64_t, std::span<double> values) { std::ranges::fill(values, 3.0); });
    EXPECT_EQ(result.mean, 3.0);
    EXPECT_EQ(result.u, 0.0);
    EXPECT_EQ(result.symmetric.low, 3.0);
    EXPECT_EQ(result.symmetric.high, 3.0);
    EXPECT_TRUE(result.stable);
}

TEST(MonteCarlo, RefusesAModelThatIsNotFinite) {
    const Model broken = [](std::uint64_t first, std::span<double> values) {
        if (first > 30'000) values.front() = std::log(-1.0);
    };
    for (const unsigned threads : {1u, 2u}) {
        MonteCarloOptions options;
        options.threads = threads;
        EXPECT_THROW((void)monte_carlo(broken, options), std::domain_error);
    }
}

TEST(HeavyTails, AreDescribedByTheirMedianAndInterval) {
    MonteCarloOptions options;
    options.heavy_tails = true;
    const MonteCarloResult result = monte_carlo(
        [](std::uint64_t first, std::span<double> values) {
            lanes::add_students_t({5, 1}, first, 2, 1, values);
        },
        options);
    // t(2) has no variance; its 97.5 % quantile is 4.303 (any table; Boost 4.30265). Two digits of u hold.
    EXPECT_TRUE(result.stable);
    EXPECT_NEAR(result.symmetric.high, 4.303, 0.05);
    EXPECT_NEAR(result.symmetric.low, -4.303, 0.05);
    EXPECT_NEAR(result.u, 4.303 / 1.960, 0.05);
    EXPECT_NEAR(result.mean, 0, 0.05);
}

TEST(Tolerance, IsHalfAUnitOfTheLastDigitThatCounts) {
    // 7.9.2 by hand: 0.35 g to two digits is 35 x 10^-2 g, to one digit 3 x 10^-1 g (cut, not rounded).
    EXPECT_TRUE(agrees(tolerance_of(0.35, 2), "0.00500"));
    EXPECT_TRUE(agrees(tolerance_of(0.35, 1), "0.0500"));
    EXPECT_TRUE(agrees(tolerance_of(1234, 2), "50.0"));
    EXPECT_EQ(tolerance_of(0, 2), 0.0);
}

}  // namespace
}  // namespace ebbtide::stats
