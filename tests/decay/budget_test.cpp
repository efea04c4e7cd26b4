// How contributions add up in one run and in a mean of several: what is shared, what averages down, what is
// correlated.

#include "decay/budget.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <algorithm>
#include <cmath>

#include "support/agrees.hpp"

namespace ebbtide::decay {
namespace {

using testing_support::agrees;

Contribution line(const char* source, double u_s, Scope scope) {
    return {source, u_s, "s", 1, {}, scope, ""};
}

/// A mean's runs: every budget alike, `replicates` in each of `series`, half of the series on each of two
/// days.
std::vector<RunBudget> plan_of(std::span<const Contribution> budget, int series, int replicates) {
    std::vector<RunBudget> runs;
    for (int s = 0; s < series; ++s)
        for (int i = 0; i < replicates; ++i)
            runs.push_back({budget, "series " + std::to_string(s), 2 * s < series ? "day 1" : "day 2"});
    return runs;
}

const Contribution& of_source(const std::vector<Contribution>& budget, const std::string& source) {
    return *std::ranges::find(budget, source, &Contribution::source);
}

TEST(Mean, AveragesEachPartOverWhatDoesNotShareIt) {
    // 4 series of 3 runs on 2 days: 12 ms/sqrt(12), 10 ms/sqrt(4), 8 ms/sqrt(2), 6 ms; by hand.
    const std::vector<Contribution> run{line("noise", 0.012, Scope::run),
                                        line("clamping", 0.010, Scope::series),
                                        line("air", 0.008, Scope::day), line("lag", 0.006, Scope::bench)};
    const auto mean = budget_of_mean(plan_of(run, 4, 3));
    EXPECT_TRUE(agrees(of_source(mean, "noise").u_s(), "0.0034641"));
    EXPECT_TRUE(agrees(of_source(mean, "clamping").u_s(), "0.0050"));
    EXPECT_TRUE(agrees(of_source(mean, "air").u_s(), "0.0056569"));
    EXPECT_TRUE(agrees(of_source(mean, "lag").u_s(), "0.0060"));
    EXPECT_TRUE(agrees(combined_u_s(mean), "0.0102470"));
}

TEST(Mean, KeepsScopeAndSourceOfEachLineLargestFirst) {
    const std::vector<Contribution> run{line("noise", 0.1, Scope::run), line("lag", 0.05, Scope::bench)};
    const auto mean = budget_of_mean(plan_of(run, 3, 3));
    ASSERT_EQ(mean.size(), 2u);
    EXPECT_EQ(mean[0].source, "lag") << "nine runs average the noise to under the lag";
    EXPECT_EQ(mean[0].scope, Scope::bench);
    EXPECT_EQ(mean[1].scope, Scope::run);
    EXPECT_DOUBLE_EQ(mean[1].u, 0.1) << "the source itself is as uncertain as in one run";
    EXPECT_TRUE(agrees(mean[1].sensitivity, "0.33333"));
}

TEST(Mean, AddsSharedPartsWithTheirSigns) {
    // A zero error that makes one run long and another short leaves their mean alone.
    const std::vector<Contribution> longer{{"zero", 2, "V", 0.01, {}, Scope::bench, ""}};
    const std::vector<Contribution> shorter{{"zero", 2, "V", -0.01, {}, Scope::bench, ""}};
    EXPECT_DOUBLE_EQ(u_of_mean_s(std::vector<RunBudget>{{longer, "a", ""}, {shorter, "b", ""}}), 0);
    EXPECT_DOUBLE_EQ(u_of_mean_s(std::vector<RunBudget>{{longer, "a", ""}, {longer, "b", ""}}), 0.02);
}

TEST(Mean, OfARunWithoutALineThatOthersHave) {
    // Half the runs carry it: half of it reaches the mean.
    const std::vector<Contribution> with{line("noise", 0.01, Scope::run), line("lag", 0.01, Scope::bench)};
    const std::vector<Contribution> without{line("noise", 0.01, Scope::run)};
    const auto mean = budget_of_mean(std::vector<RunBudget>{{with, "a", ""}, {without, "b", ""}});
    EXPECT_TRUE(agrees(of_source(mean, "lag").u_s(), "0.0050"));
}

TEST(Mean, DegreesOfFreedomAddUpOverRunsUnlessEstimatedOnce) {
    Contribution noise = line("noise", 0.01, Scope::run);
    noise.degrees_of_freedom = 5;
    const std::vector<Contribution> own{noise};
    noise.pooled = true;
    const std::vector<Contribution> pooled{noise};
    // Four equal, independent estimates of 5 degrees each: 20 (JCGM 100:2008, G.4.1 by hand).
    EXPECT_TRUE(agrees(*effective_degrees_of_freedom(budget_of_mean(plan_of(own, 4, 1))), "20.0"));
    EXPECT_TRUE(agrees(*effective_degrees_of_freedom(budget_of_mean(plan_of(pooled, 4, 1))), "5.0"));
}

TEST(Correlation, FullyAlikeAddsAndFullyOppositeCancels) {
    Contribution a = line("humidity", 3, Scope::bench);
    const Contribution b = line("temperature", 2, Scope::bench);
    a.correlated_with = "temperature";
    for (const auto& [r, sum] :
         {std::pair(1.0, 5.0), std::pair(-1.0, 1.0), std::pair(0.0, std::sqrt(13.0))}) {
        a.correlation = r;
        EXPECT_DOUBLE_EQ(combined_u_s(std::vector{a, b}), sum) << r;
    }
}

TEST(Correlation, TakesTheSignsOfTheSensitivities) {
    // Equal errors of opposite effect: fully correlated, they cancel.
    const std::vector<Contribution> budget{{"humidity", 1, "%", -0.5, {}, Scope::bench, "temperature", 1},
                                           {"temperature", 1, "C", 0.5, {}, Scope::bench, ""}};
    EXPECT_DOUBLE_EQ(combined_u_s(budget), 0);
}

TEST(Correlation, WithASourceThatIsNotThereChangesNothing) {
    Contribution alone = line("humidity", 3, Scope::bench);
    alone.correlated_with = "temperature";
    alone.correlation = -1;
    EXPECT_DOUBLE_EQ(combined_u_s(std::vector{alone}), 3);
}

TEST(Correlation, SaidOnBothCountsOnce) {
    Contribution a = line("humidity", 3, Scope::bench), b = line("temperature", 4, Scope::bench);
    a.correlated_with = "temperature";
    b.correlated_with = "humidity";
    a.correlation = b.correlation = 0.5;
    EXPECT_TRUE(agrees(combined_u_s(std::vector{a, b}), "6.0828"));  // sqrt(9 + 16 + 2 * 0.5 * 12)
}

/// Budgets of runs at random: three sources of any scope, two of them correlated; signs at will.
struct Drawn {
    std::vector<std::vector<Contribution>> budgets;
    std::vector<RunBudget> runs;
};

Drawn drawn() {
    const auto scope = [] { return static_cast<Scope>(*rc::gen::inRange(0, 4)); };
    const Scope one = scope(), two = scope(), three = scope();
    const double r = *rc::gen::inRange(-100, 101) / 100.0;
    Drawn out;
    const int count = *rc::gen::inRange(1, 9);
    for (int i = 0; i < count; ++i) {
        const auto effect = [] { return *rc::gen::inRange(-1000, 1001) / 1000.0; };
        out.budgets.push_back({{"a", 1, "s", effect(), {}, one, "b", r},
                               {"b", 1, "s", effect(), {}, two, ""},
                               {"c", 1, "s", effect(), {}, three, ""}});
    }
    for (const auto& budget : out.budgets) {
        const int day = *rc::gen::inRange(0, 3);  // series lie within days
        out.runs.push_back({budget, std::to_string(day) + "/" + std::to_string(*rc::gen::inRange(0, 3)),
                            std::to_string(day)});
    }
    return out;
}

/// From the definition: every pair of contributions of every pair of runs, over n^2. Two sources are
/// correlated between runs where one error of the one meets the other's in some run.
double variance_by_pairs(const std::vector<RunBudget>& runs) {
    const auto error_of = [&](Scope scope, std::size_t i) {
        return scope == Scope::run      ? "run " + std::to_string(i)
               : scope == Scope::series ? runs[i].series
               : scope == Scope::day    ? runs[i].day
                                        : std::string("bench");
    };
    const auto meet = [&](const Contribution& x, std::size_t i, const Contribution& y, std::size_t j) {
        for (std::size_t k = 0; k < runs.size(); ++k)
            if (error_of(x.scope, k) == error_of(x.scope, i) && error_of(y.scope, k) == error_of(y.scope, j))
                return true;
        return false;
    };
    double variance = 0;
    for (std::size_t i = 0; i < runs.size(); ++i)
        for (std::size_t j = 0; j < runs.size(); ++j)
            for (const Contribution& x : runs[i].budget)
                for (const Contribution& y : runs[j].budget) {
                    double r = 0;
                    if (x.source == y.source)
                        r = error_of(x.scope, i) == error_of(y.scope, j) ? 1 : 0;
                    else if (x.correlated_with == y.source && meet(x, i, y, j))
                        r = x.correlation;
                    else if (y.correlated_with == x.source && meet(x, i, y, j))
                        r = y.correlation;
                    variance += r * x.u * x.sensitivity * y.u * y.sensitivity;
                }
    return variance / static_cast<double>(runs.size() * runs.size());
}

RC_GTEST_PROP(MeanProperty, IsTheSumOverAllPairsOfRuns, ()) {
    const Drawn plan = drawn();
    const double expected = std::sqrt(std::max(0.0, variance_by_pairs(plan.runs)));
    // Where coefficients contradict the sharing, the definition itself goes below nought: then both give 0.
    RC_ASSERT(std::abs(u_of_mean_s(plan.runs) - expected) < 1e-7);
}

RC_GTEST_PROP(MeanProperty, OfOneRunIsThatRun, ()) {
    const Drawn plan = drawn();
    RC_ASSERT(std::abs(u_of_mean_s(std::span(plan.runs).first(1)) - combined_u_s(plan.budgets[0])) < 1e-7);
}

RC_GTEST_PROP(MeanProperty, DoesNotDependOnTheOrderOfRuns, ()) {
    const Drawn plan = drawn();
    std::vector<RunBudget> turned = plan.runs;
    std::ranges::rotate(turned, turned.begin() + *rc::gen::inRange(0, static_cast<int>(turned.size())));
    RC_ASSERT(std::abs(u_of_mean_s(turned) - u_of_mean_s(plan.runs)) < 1e-7);
}

RC_GTEST_PROP(MeanProperty, IsAFiniteNumberAndNeverNegative, ()) {
    const double u = u_of_mean_s(drawn().runs);
    RC_ASSERT(std::isfinite(u) && u >= 0);
}

}  // namespace
}  // namespace ebbtide::decay
