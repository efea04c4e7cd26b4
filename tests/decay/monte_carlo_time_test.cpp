// The Monte Carlo beside the budget: what bends is carried along the fall, what does not moves the time.

#include "decay/monte_carlo_time.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <boost/math/distributions/students_t.hpp>
#include <boost/math/quadrature/gauss_kronrod.hpp>
#include <cmath>

#include "decay/figures.hpp"
#include "support/known_fall.hpp"
#include "support/simulated_run.hpp"

namespace ebbtide::decay {
namespace {

constexpr std::uint64_t seed = 20'261'125;

Contribution line(const char* source, double u, const char* unit, double sensitivity,
                  std::optional<double> freedom = {}) {
    return {source, u, unit, sensitivity, freedom, Scope::run, ""};
}

/// exp(-t) from 1 V about the level of 0.01 V, from 0.001 V to 0.05 V.
LocalFall exponential_about_a_hundredth() {
    LocalFall fall;
    for (double v = 0.001; v < 0.05; v *= 1.05) {
        if (v / 1.05 < 0.01 && v > 0.01) {
            fall.offset_V.push_back(0);
            fall.time_s.push_back(std::log(100.0));
        }
        fall.offset_V.push_back(v - 0.01);
        fall.time_s.push_back(-std::log(v));
    }
    return fall;
}

LevelFigure measured(double noise_V, const char* level) {
    testing_support::RunPlan plan;
    plan.noise_V = noise_V;
    const auto store = testing_support::simulate(plan, seed);
    plan::DecayRules rules;
    rules.levels = {*plan::parse_level(level)};
    return figures_of(testing_support::cut(store).front(), rules, {}).levels.front();
}

double expanded_u_s(const LevelFigure& figure) {
    const double k = figure.degrees_of_freedom
                         ? boost::math::quantile(boost::math::students_t(*figure.degrees_of_freedom), 0.975)
                         : 1.959964;
    return k * *figure.u_decay_s;
}

MonteCarloTime carried_through(const LevelFigure& figure) {
    return monte_carlo_time(*figure.decay_s, expanded_u_s(figure), figure.budget, figure.local_fall, seed);
}

TEST(MonteCarloTime, AgreesWithTheSlopesWhereTheFallIsNearlyStraight) {
    for (const char* level : {"0.5", "0.3"}) {
        const LevelFigure figure = measured(0.01, level);
        ASSERT_EQ(figure.status, LevelStatus::measured);
        const MonteCarloTime drawn = carried_through(figure);
        EXPECT_TRUE(drawn.stable);
        EXPECT_TRUE(drawn.agrees);
        EXPECT_NEAR(drawn.u_s, *figure.u_decay_s, 0.02 * *figure.u_decay_s) << level;
        EXPECT_NEAR(drawn.high_s - drawn.low_s, 2 * expanded_u_s(figure), 0.02 * 2 * expanded_u_s(figure));
        EXPECT_NEAR(drawn.mean_s, *figure.decay_s, 0.1 * *figure.u_decay_s);
        EXPECT_EQ(drawn.beyond, 0.0);
    }
}

TEST(MonteCarloTime, AgreesWithTheSlopesBetweenTwoLevels) {
    testing_support::RunPlan plan;
    plan.noise_V = 0.01;
    const auto store = testing_support::simulate(plan, seed);
    plan::DecayRules rules;
    rules.from = *plan::parse_level("0.9");
    rules.levels = {*plan::parse_level("0.3")};
    const LevelFigure figure = figures_of(testing_support::cut(store).front(), rules, {}).levels.front();
    ASSERT_EQ(figure.status, LevelStatus::measured);
    ASSERT_FALSE(figure.local_fall.time_s.empty());
    const MonteCarloTime drawn = carried_through(figure);
    EXPECT_TRUE(drawn.agrees);
    EXPECT_NEAR(drawn.u_s, *figure.u_decay_s, 0.02 * *figure.u_decay_s);
    EXPECT_NEAR(drawn.mean_s, *figure.decay_s, 0.1 * *figure.u_decay_s);
}

TEST(MonteCarloTime, OfALowLevelFollowsTheLogarithm) {
    // Level 1 % of V0, zero known to a third of it, fall exp(-t/T) with T = 1 s: t = -ln(0.01 + x), x normal.
    // Below 0.001 V the record knows nothing and the fall goes straight on; mean and u with that by
    // quadrature (Boost).
    const LocalFall fall = exponential_about_a_hundredth();
    const double u_V = 0.01 / 3;
    const std::vector<Contribution> budget{line("zero", u_V, "V", 100)};
    const MonteCarloTime drawn = monte_carlo_time(std::log(100.0), 1.96 * u_V * 100, budget, fall, seed);
    EXPECT_TRUE(drawn.stable);
    EXPECT_FALSE(drawn.agrees);
    const double tolerance_s = 0.005;  // two digits of u = 0.5 s, held with 95 % probability
    EXPECT_NEAR(drawn.low_s, -std::log(0.01 + 1.959964 * u_V), 2 * tolerance_s);
    EXPECT_NEAR(drawn.high_s, -std::log(0.01 - 1.959964 * u_V), 2 * tolerance_s);

    const double v0 = 0.001, t0 = -std::log(v0);
    const auto time_s = [&](double v) { return v > v0 ? -std::log(v) : t0 - (v - v0) / v0; };
    const auto moment = [&](int power) {
        const auto weight = [&](double x) {
            return std::pow(time_s(0.01 + x * u_V), power) * std::exp(-x * x / 2) / std::sqrt(2 * M_PI);
        };
        const double break_at = (v0 - 0.01) / u_V;
        using Rule = boost::math::quadrature::gauss_kronrod<double, 61>;
        return Rule::integrate(weight, -7, break_at, 10, 1e-10) +
               Rule::integrate(weight, break_at, 7, 10, 1e-10);
    };
    const double mean_s = moment(1), u_s = std::sqrt(moment(2) - mean_s * mean_s);
    EXPECT_NEAR(drawn.mean_s, mean_s, tolerance_s);
    EXPECT_NEAR(drawn.u_s, u_s, 0.01 * u_s);  // the tail is as straight as the last step of the table
    EXPECT_GT(drawn.mean_s, std::log(100.0) + 0.05) << "late, as a flattening curve must be";
    EXPECT_NEAR(drawn.beyond, 0.00347, 0.0003);  // P(x < -2.7), normal table
}

TEST(MonteCarloTime, FindsTheBendOfAMeasuredFall) {
    // A fall whose tail is flat: 0.98 exp(-t) + 0.02 exp(-t/20), no noise to speak of; level 2.5 %, zero
    // known to 0.2 % of V0. The truth: the same fall solved for the levels 2.5 % -+ 1.96 u (1 - p).
    const auto left = [](double t) { return 0.98 * std::exp(-t) + 0.02 * std::exp(-t / 20); };
    const auto passes = [&](double level) {
        double low = 0, high = 200;
        for (int i = 0; i < 100; ++i) (left((low + high) / 2) > level ? low : high) = (low + high) / 2;
        return low;
    };
    testing_support::RunPlan plan;
    plan.fall = left;
    plan.fall_s = 30;
    plan.samples = 30'000;
    plan.noise_V = 1e-5;
    plan::DecayRules rules;
    rules.levels = {*plan::parse_level("0.025")};
    const double u_V = 0.002;
    rules.residual_limit_V = u_V * std::sqrt(3.0);
    const auto store = testing_support::simulate(plan, seed);
    const LevelFigure figure = figures_of(testing_support::cut(store).front(), rules, {}).levels.front();
    ASSERT_EQ(figure.status, LevelStatus::measured);
    const MonteCarloTime drawn = carried_through(figure);
    const double low_s = passes(0.025 + 1.96 * u_V * 0.975), high_s = passes(0.025 - 1.96 * u_V * 0.975);
    EXPECT_NEAR(drawn.low_s, low_s, 0.02 * (high_s - low_s));
    EXPECT_NEAR(drawn.high_s, high_s, 0.02 * (high_s - low_s));
    EXPECT_FALSE(drawn.agrees) << "slopes give " << *figure.decay_s - expanded_u_s(figure) << " to "
                               << *figure.decay_s + expanded_u_s(figure) << " s";
}

TEST(MonteCarloTime, DrawsCorrelatedLinesTogether) {
    for (const double r : {-1.0, -0.5, 0.5, 1.0}) {
        std::vector<Contribution> budget{line("humidity", 2, "%", -0.1), line("temperature", 1, "K", -0.1)};
        budget[0].correlated_with = "temperature";
        budget[0].correlation = r;
        const double u_s = combined_u_s(budget);  // checked against JCGM 100 elsewhere
        const MonteCarloTime drawn = monte_carlo_time(10, 1.96 * u_s, budget, {}, seed);
        EXPECT_NEAR(drawn.u_s, u_s, 0.01 * u_s) << r;
        EXPECT_TRUE(drawn.agrees) << r;
    }
}

TEST(MonteCarloTime, DrawsALineInVoltsWithOneInSecondsTogether) {
    // Opposite and alike in size: they cancel to first order.
    std::vector<Contribution> budget{line("zero", 1e-4, "V", 100), line("lag", 0.01, "s", 1)};
    budget[1].correlated_with = "zero";
    budget[1].correlation = -1;
    const MonteCarloTime drawn =
        monte_carlo_time(std::log(100.0), 0, budget, exponential_about_a_hundredth(), seed);
    EXPECT_LT(drawn.u_s, 2e-4) << "either alone is 0.01 s";
}

TEST(MonteCarloTime, OfFewDegreesOfFreedomIsAsWideAsStudentSays) {
    for (const double freedom : {1.0, 2.0, 4.0, 9.0}) {
        const std::vector<Contribution> budget{line("replicates", 0.1, "1", 3, freedom)};
        const MonteCarloTime drawn = monte_carlo_time(3, 0, budget, {}, seed);
        const double expected_s = 0.3 * boost::math::quantile(boost::math::students_t(freedom), 0.975);
        EXPECT_TRUE(drawn.stable) << freedom;
        EXPECT_NEAR(drawn.high_s - 3, expected_s, 0.03 * expected_s) << freedom;
        EXPECT_NEAR(3 - drawn.low_s, expected_s, 0.03 * expected_s) << freedom;
        EXPECT_NEAR(drawn.mean_s, 3, 0.02 * expected_s) << freedom;
        if (freedom < 5) {
            EXPECT_NEAR(drawn.u_s, expected_s / 1.96, 0.03 * expected_s);
        } else {
            EXPECT_NEAR(drawn.u_s, 0.3 * std::sqrt(freedom / (freedom - 2)), 0.01);  // 6.4.9.4
        }
    }
}

TEST(MonteCarloTime, DoesNotCountTheBendTwice) {
    const LocalFall fall = exponential_about_a_hundredth();
    std::vector<Contribution> budget{line("noise at the crossing", 0.001, "V", 100)};
    const MonteCarloTime without = monte_carlo_time(4.6, 0.2, budget, fall, seed);
    budget.push_back(line("second order of the noise", 0.5, "s", 1));
    EXPECT_EQ(monte_carlo_time(4.6, 0.2, budget, fall, seed).u_s, without.u_s);
    EXPECT_GT(monte_carlo_time(4.6, 0.2, budget, {}, seed).u_s, 0.4) << "no fall: the line is all there is";
}

TEST(MonteCarloTime, GivesTheSameBitsForTheSameSeedInAnyOrderOfLines) {
    const LocalFall fall = exponential_about_a_hundredth();
    std::vector<Contribution> budget{line("zero", 0.001, "V", 100),
                                     line("noise at the crossing", 0.001, "V", 100, 40),
                                     line("release", 0.02, "s", 1), line("time base", 1e-3, "1", 4.6)};
    const MonteCarloTime one = monte_carlo_time(4.6, 0.3, budget, fall, seed);
    const MonteCarloTime again = monte_carlo_time(4.6, 0.3, budget, fall, seed);
    std::ranges::reverse(budget);
    const MonteCarloTime turned = monte_carlo_time(4.6, 0.3, budget, fall, seed);
    for (const MonteCarloTime& other : {again, turned}) {
        EXPECT_EQ(other.mean_s, one.mean_s);
        EXPECT_EQ(other.u_s, one.u_s);
        EXPECT_EQ(other.low_s, one.low_s);
        EXPECT_EQ(other.high_s, one.high_s);
        EXPECT_EQ(other.trials, one.trials);
    }
    EXPECT_NE(monte_carlo_time(4.6, 0.3, budget, fall, seed + 1).mean_s, one.mean_s);
}

TEST(MonteCarloTime, CallsNothingADisagreementBelowATwentieth) {
    const std::vector<Contribution> budget{line("release", 0.12, "s", 1)};
    const double expanded_s = 1.96 * 0.12;
    EXPECT_TRUE(monte_carlo_time(3, 1.04 * expanded_s, budget, {}, seed).agrees);
    // One digit of 0.12 s is 1 x 0.1 s: half of that is the tolerance of clause 8, more than a twentieth.
    EXPECT_TRUE(monte_carlo_time(3, expanded_s + 0.045, budget, {}, seed).agrees);
    EXPECT_FALSE(monte_carlo_time(3, expanded_s + 0.055, budget, {}, seed).agrees);
    // As wide as the draws, but beside them: the fall passes its level at 4.605 s.
    const LocalFall fall = exponential_about_a_hundredth();
    EXPECT_TRUE(monte_carlo_time(4.645, expanded_s, budget, fall, seed).agrees);
    EXPECT_FALSE(monte_carlo_time(4.665, expanded_s, budget, fall, seed).agrees);
}

TEST(MonteCarloTime, WithoutAnythingUncertainIsTheTimeItself) {
    const MonteCarloTime drawn = monte_carlo_time(3, 0, {}, {}, seed);
    EXPECT_EQ(drawn.mean_s, 3.0);
    EXPECT_EQ(drawn.low_s, 3.0);
    EXPECT_EQ(drawn.high_s, 3.0);
    EXPECT_TRUE(drawn.stable && drawn.agrees);
}

TEST(LocalFall, LiesOnTheFallItWasTakenFrom) {
    const LevelFigure figure = measured(0.001, "0.1");
    const LocalFall& fall = figure.local_fall;
    ASSERT_GE(fall.offset_V.size(), 30u);
    ASSERT_EQ(fall.time_s.size(), fall.offset_V.size());
    for (std::size_t i = 1; i < fall.offset_V.size(); ++i) {
        ASSERT_LT(fall.offset_V[i - 1], fall.offset_V[i]);
        ASSERT_GT(fall.time_s[i - 1], fall.time_s[i]);
    }
    const double u_V = *figure.u_decay_s * 0.1;
    EXPECT_LE(fall.offset_V.front(), -5 * u_V);
    EXPECT_GE(fall.offset_V.back(), 5 * u_V);
    for (std::size_t i = 0; i < fall.offset_V.size(); ++i)
        EXPECT_NEAR(std::exp(-fall.time_s[i]) - 0.1, fall.offset_V[i], 4 * u_V) << i;
}

}  // namespace
}  // namespace ebbtide::decay
