// What specimens show of a lot: shares, outliers, differences, replicates, plans.

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <random>
#include <vector>

#include "stats/comparison.hpp"
#include "stats/distributions.hpp"
#include "stats/moments.hpp"
#include "stats/normality.hpp"
#include "stats/order_statistics.hpp"
#include "stats/proportion.hpp"
#include "stats/replicates.hpp"
#include "stats/sampling_plan.hpp"
#include "support/agrees.hpp"

namespace ebbtide::stats {
namespace {

using testing_support::agrees;

// The share over the limit is at its upper bound exactly where the tolerance factor puts the limit.
TEST(ShareBeyond, MirrorsTheToleranceFactor) {
    for (const int n : {3, 5, 12, 40}) {
        const double k = one_sided_factor(n, {0.90, 0.95});
        // A two-sided interval of 90 % leaves 5 % at either side.
        EXPECT_NEAR(*normal_share_beyond(0, 1, n, k, 0.90).interval.high, 0.10, 1e-9) << n;
    }
    const ShareBeyond share = normal_share_beyond(0.2, 0.5, 10, 0.9, 0.95);
    EXPECT_TRUE(*share.interval.low < share.estimate && share.estimate < *share.interval.high);
}

TEST(OrderStatistics, TakeTheLargestOfFewAndASmallerOneOfMany) {
    EXPECT_FALSE(rank_of_upper_bound(28, {.90, .95}));
    EXPECT_EQ(rank_of_upper_bound(29, {.90, .95}), 1);
    EXPECT_EQ(rank_of_upper_bound(45, {.90, .95}), 1);
    EXPECT_EQ(rank_of_upper_bound(46, {.90, .95}), 2);  // 46: also the two-sided figure, the same binomial
    EXPECT_NEAR(confidence_of_largest(59, .95), 1 - std::pow(.95, 59), 1e-14);
}

// scipy.stats.anderson(x, 'norm').statistic of SciPy 1.10.
TEST(AndersonDarling, AgreesWithAnotherProgram) {
    const std::vector<double> even{-1.2, -0.7, -0.4, -0.1, 0.1, 0.4, 0.7, 1.2};
    const std::vector<double> skewed{0.02, 0.05, 0.1, 0.1, 0.2, 0.3, 0.6, 1.1, 2.4, 6.0};
    EXPECT_TRUE(agrees(anderson_darling(even)->statistic, "0.0933489872"));
    EXPECT_TRUE(agrees(anderson_darling(skewed)->statistic, "1.55923811"));
    EXPECT_GT(anderson_darling(even)->p, 0.5);
    EXPECT_LT(anderson_darling(skewed)->p, 0.01);
    EXPECT_FALSE(anderson_darling(std::vector<double>{1, 2, 3, 4, 5, 6, 7}));
    EXPECT_FALSE(anderson_darling(std::vector<double>(10, 1.0)));
}

// Critical values of the same statistic, n large: 0.631, 0.752, 1.035 at 10, 5 and 1 % (Stephens 1986, table
// 4.7; from memory), with the correction for n on both sides.
TEST(AndersonDarling, RejectsATrueNormalLawAsOftenAsItSays) {
    std::mt19937_64 generator(20261130);
    std::normal_distribution<double> normal;
    int rejected = 0;
    for (int trial = 0; trial < 4000; ++trial) {
        std::vector<double> values(15);
        for (double& value : values) value = normal(generator);
        rejected += anderson_darling(values)->p < 0.05;
    }
    // 200 expected, standard deviation 14; four of them.
    EXPECT_NEAR(rejected, 200, 56);
}

TEST(Grubbs, PointsToTheFurthestValueAndSaysHowRareItIs) {
    std::vector<double> values{0.1, -0.2, 0.05, 0.0, -0.1, 0.15, 0.2, 3.0};
    const auto found = grubbs(values);
    ASSERT_TRUE(found);
    EXPECT_EQ(found->place, 7u);
    EXPECT_LT(found->p, 0.001);
    // At the critical value the p-value is the level.
    const int n = 8;
    const double g = grubbs_critical(n, 0.05);
    EXPECT_NEAR(
        2 * n * students_t_below(-std::sqrt(n * (n - 2) * g * g / ((n - 1) * (n - 1) - n * g * g)), n - 2),
        0.05, 1e-9);
    EXPECT_FALSE(grubbs(std::vector<double>{1, 2}));
    EXPECT_FALSE(grubbs(std::vector<double>{1, 1, 1}));
}

// scipy.stats.ttest_ind(a, b, equal_var=False) of SciPy 1.10.
TEST(Welch, AgreesWithAnotherProgram) {
    const std::vector<double> a{0.31, 0.42, 0.28, 0.39, 0.35}, b{0.48, 0.61, 0.39, 0.72};
    const Moments first = moments_of(a), second = moments_of(b);
    const Difference found =
        difference_of({first.mean, first.variance / 5, 4}, {second.mean, second.variance / 4, 3}, 0.95);
    EXPECT_TRUE(agrees(found.difference / found.standard_error, "-2.60377822"));
    EXPECT_TRUE(agrees(found.p, "0.0638919968"));
    EXPECT_TRUE(agrees(found.degrees_of_freedom, "3.74577981"));
    EXPECT_TRUE(*found.interval.low < found.difference && found.difference < *found.interval.high);
}

// By hand, the definition step by step.
TEST(Holm, MultipliesTheSmallestByAllAndNeverFalls) {
    const std::vector<double> found = holm(std::vector<double>{0.01, 0.04, 0.03, 0.5});
    const std::vector<double> wanted{0.04, 0.09, 0.09, 0.5};
    for (std::size_t i = 0; i < wanted.size(); ++i) EXPECT_NEAR(found[i], wanted[i], 1e-15);
    EXPECT_TRUE(holm({}).empty());
}

TEST(Equivalence, IsShownWhereTheIntervalOfNinetyPercentLiesInsideTheMargin) {
    const Difference found = difference_of({0.02, 0.001, 9}, {0.0, 0.0012, 9}, 0.90);
    const double reach = std::max(std::abs(*found.interval.low), std::abs(*found.interval.high));
    EXPECT_NEAR(equivalence_p(found, reach), 0.05, 1e-12);
    EXPECT_LT(equivalence_p(found, 1.5 * reach), 0.05);
    EXPECT_GT(equivalence_p(found, 0.9 * reach), 0.05);
}

// Balanced: textbook algebra. Three specimens of two values.
TEST(SpecimenVariation, CountsSpecimensAndNotReplicates) {
    const std::vector<std::vector<double>> specimens{{1.0, 1.2}, {2.0, 2.2}, {3.0, 3.2}};
    const auto found = specimen_variation(specimens);
    ASSERT_TRUE(found);
    EXPECT_NEAR(found->variance_within, 0.02, 1e-12);
    EXPECT_NEAR(found->variance_between, (2.0 - 0.02) / 2, 1e-12);  // (mean square between - within)/2
    EXPECT_NEAR(found->mean, 2.1, 1e-12);
    // Values of a specimen nearly repeat each other: six values tell hardly more than three.
    EXPECT_GT(found->effective_values, 3);
    EXPECT_LT(found->effective_values, 3.1);
    const auto alike = specimen_variation(std::vector<std::vector<double>>{{1, 2}, {2, 1}, {1, 2}});
    EXPECT_EQ(alike->variance_between, 0);
    EXPECT_NEAR(alike->effective_values, 6, 1e-12);
    EXPECT_FALSE(specimen_variation(std::vector<std::vector<double>>{{1}, {2}}));
    EXPECT_FALSE(specimen_variation(std::vector<std::vector<double>>{{1, 2}}));
}

// scipy.stats.linregress of SciPy 1.10 for one specimen; levels of more specimens do not matter.
TEST(ReplicateTrend, IsTheSlopeOfARegressionWithinSpecimens) {
    const std::vector<double> y{0.10, 0.13, 0.21, 0.22, 0.30};
    std::vector<Replicate> one;
    for (std::size_t i = 0; i < y.size(); ++i) one.push_back({0, static_cast<double>(i + 1), y[i]});
    const auto found = replicate_trend(one);
    EXPECT_TRUE(agrees(found->slope, "0.049"));
    EXPECT_TRUE(agrees(found->standard_error, "0.00597215762"));
    EXPECT_TRUE(agrees(found->p, "0.0037890079"));
    std::vector<Replicate> two = one;
    for (const Replicate& each : one) two.push_back({1, each.number, each.value + 7});
    EXPECT_NEAR(replicate_trend(two)->slope, found->slope, 1e-12);
    EXPECT_LT(replicate_trend(two)->p, found->p);
    EXPECT_FALSE(replicate_trend(std::vector<Replicate>{{0, 1, 1}, {0, 2, 2}}));
    EXPECT_FALSE(replicate_trend(std::vector<Replicate>{{0, 1, 1}, {0, 1, 2}, {1, 1, 3}, {1, 1, 2}}));
}

// By hand: 0.95^10; at most one of ten 0.95^10 + 10 * 0.05 * 0.95^9. Of a lot of 20 with 2 over the limit,
// five drawn hold none with (18 choose 5)/(20 choose 5) = 8568/15504.
TEST(SamplingPlan, ByAttributesAcceptsAsOftenAsCountingSays) {
    EXPECT_NEAR(acceptance(AttributesPlan{10, 0}, 0.05), std::pow(0.95, 10), 1e-14);
    EXPECT_NEAR(acceptance(AttributesPlan{10, 1}, 0.05), std::pow(0.95, 10) + 0.5 * std::pow(0.95, 9), 1e-14);
    EXPECT_NEAR(acceptance_of_finite({5, 0}, 2, 20), 8568.0 / 15504, 1e-12);
    EXPECT_NEAR(acceptance_of_finite({5, 1}, 2, 20), 1 - 1.0 * 816 / 15504, 1e-12);  // (18 choose 3)/...
    EXPECT_EQ(acceptance_of_finite({5, 0}, 0, 20), 1);
}

TEST(SamplingPlan, KeepsBothRisksAndNoSmallerOneDoes) {
    const Risks risks{0.01, 0.95, 0.08, 0.10};
    const auto variables = variables_plan(risks);
    ASSERT_TRUE(variables);
    EXPECT_GE(acceptance(*variables, 0.01), 0.95);
    EXPECT_LE(acceptance(*variables, 0.08), 0.10 + 1e-9);
    const int fewer = variables->n - 1;
    EXPECT_LT(acceptance(VariablesPlan{fewer, one_sided_factor(fewer, {0.92, 0.90})}, 0.01), 0.95);
    const auto attributes = attributes_plan(risks);
    ASSERT_TRUE(attributes);
    EXPECT_GE(acceptance(*attributes, 0.01), 0.95);
    EXPECT_LE(acceptance(*attributes, 0.08), 0.10);
    // Measuring tells more than counting.
    EXPECT_LT(variables->n, attributes->n);
    EXPECT_FALSE(variables_plan({0.0999, 0.999, 0.10, 0.001}));
}

// On 1,000 seeded lots of each quality (seed 20261126 + trial, stated before running) accepted lots are as
// many as the operating characteristic says, within 3.9 standard deviations (1e-4).
TEST(SamplingPlan, ByVariablesAcceptsAsOftenAsItSays) {
    const VariablesPlan plan{12, 1.9};
    for (const double beyond : {0.01, 0.05, 0.15}) {
        int accepted = 0;
        for (unsigned trial = 0; trial < 1000; ++trial) {
            std::mt19937_64 generator(20261126 + trial);
            std::normal_distribution<double> normal;
            std::vector<double> logs(static_cast<std::size_t>(plan.n));
            for (double& value : logs) value = normal(generator);
            const Moments moments = moments_of(logs);
            accepted += moments.mean + plan.k * moments.s() <= -normal_quantile(beyond);
        }
        const double stated = acceptance(plan, beyond);
        EXPECT_NEAR(accepted, 1000 * stated, 3.9 * std::sqrt(1000 * stated * (1 - stated))) << beyond;
    }
}

TEST(SpecimensToShow, AreManyWhereTheLotIsHardlyGoodEnough) {
    const Claim claim{0.90, 0.95};
    const auto good = specimens_to_show(claim, 0.001, 0.8), fair = specimens_to_show(claim, 0.03, 0.8);
    ASSERT_TRUE(good && fair);
    EXPECT_LT(*good, *fair);
    EXPECT_GE(power_to_show(*fair, claim, 0.03), 0.8);
    EXPECT_LT(power_to_show(*fair - 1, claim, 0.03), 0.8);
    EXPECT_FALSE(specimens_to_show(claim, 0.10, 0.8));
    // A lot exactly at the claim is shown good in one of twenty, which is what the confidence means.
    EXPECT_NEAR(power_to_show(12, claim, 0.10), 0.05, 1e-9);
}

// Drawn another way: sigma from chi-squared, then the mean, then three values.
TEST(Outlook, AgreesWithDrawingTheLotFirst) {
    const double mean = -1, s = 0.4, limit = -0.2;
    const int n = 6;
    const Claim claim{0.90, 0.95};
    const Outlook found = outlook(mean, s, n, limit, claim, 3, 1);
    EXPECT_NEAR(found.shown + found.open + found.refuted, 1, 1e-9);
    std::mt19937_64 generator(5);
    std::normal_distribution<double> normal;
    std::chi_squared_distribution<double> chi(n - 1);
    const double k = one_sided_factor(n + 3, claim);
    int shown = 0;
    constexpr int trials = 20'000;
    for (int trial = 0; trial < trials; ++trial) {
        const double sigma = s * std::sqrt((n - 1) / chi(generator));
        const double mu = mean + sigma / std::sqrt(n) * normal(generator);
        double sum = n * mean, squares = (n - 1) * s * s + n * mean * mean;
        for (int i = 0; i < 3; ++i) {
            const double value = mu + sigma * normal(generator);
            sum += value;
            squares += value * value;
        }
        const double all = n + 3, m = sum / all, v = (squares - all * m * m) / (all - 1);
        shown += m + k * std::sqrt(v) <= limit;
    }
    EXPECT_NEAR(found.shown, static_cast<double>(shown) / trials, 4 * std::sqrt(2.0) * found.standard_error);
    const Outlook again = outlook(mean, s, n, limit, claim, 3, 1);
    EXPECT_EQ(found.shown, again.shown);
}

}  // namespace
}  // namespace ebbtide::stats
