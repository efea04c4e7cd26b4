// Does the Monte Carlo interval hold where the fall bends within its uncertainty? A seeded study, everything
// fixed before it runs:
//   truth      a flattening fall, 0.97 exp(-t/T) + 0.03 exp(-t/8T), T = 0.5 s (so that two digits of u take
//              10^5 trials and not ten times as many), level 3 % of V0, close to its flat tail: t(3 %)
//              = 2.173 s solved from the formula; record 20 s, 4,000 samples, zero and hold 0.5 s each
//   zero       what is read before the charge is off by a residual drawn from N(0, 0.004 V0), which the
//              method states as its allowance (0.004 sqrt(3) V0): some seventh of the level. (Tried before:
//              of 0.005 V0 28 of 1,000 trials, of 0.007 V0 241 give no figure, being too_noisy.)
//   noise      white, 0.1 % of V0
//   N, seeds   1,000 trials, seeds 20,261,125 + trial
// Held to: at most ten trials without a figure, all too_noisy; they count as not covered. 921 to 975 of 1,000
// intervals cover the truth, and at most 45 miss it on either side (one chance in 10^4 at 2.5 %). The width
// is bounded by that of an oracle who knows the true fall and the error's distribution but not the error: at
// the median at most 1.25 times his. First-order intervals are counted beside, and where each kind misses.

#include <gtest/gtest.h>

#include <algorithm>
#include <atomic>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>
#include <iostream>
#include <mutex>
#include <random>
#include <thread>

#include "support/simulated_run.hpp"

namespace ebbtide {
namespace {

constexpr double level = 0.03, u_zero = 0.004, scale_s = 0.5;
constexpr int trials = 1000;

double left_after(double t_s) {
    return 0.97 * std::exp(-t_s / scale_s) + 0.03 * std::exp(-t_s / (8 * scale_s));
}

double passes(double fraction) {
    double low_s = 0, high_s = 400;
    for (int i = 0; i < 200; ++i) {
        const double middle_s = (low_s + high_s) / 2;
        (left_after(middle_s) > fraction ? low_s : high_s) = middle_s;
    }
    return low_s;
}

struct Interval {
    double low_s = 0, high_s = 0;
};

struct Tally {
    int covered = 0, early = 0, late = 0;  // the truth within, above, below the interval
    std::vector<double> width_s;

    void add(const Interval& interval, double truth_s) {
        covered += truth_s >= interval.low_s && truth_s <= interval.high_s;
        early += truth_s > interval.high_s;
        late += truth_s < interval.low_s;
        width_s.push_back(interval.high_s - interval.low_s);
    }
    double median_width_s() {
        std::ranges::nth_element(width_s, width_s.begin() + static_cast<std::ptrdiff_t>(width_s.size() / 2));
        return width_s[width_s.size() / 2];
    }
};

std::ostream& operator<<(std::ostream& out, Tally& tally) {
    return out << tally.covered << " covered, " << tally.early << " end too early, " << tally.late
               << " begin too late, median width " << tally.median_width_s() << " s";
}

decay::LevelFigure one_trial(int trial) {
    const std::uint64_t seed = 20'261'125u + static_cast<unsigned>(trial);
    testing_support::RunPlan plan;
    plan.fall = left_after;
    plan.fall_s = 20;
    plan.samples = 4000;
    plan.noise_V = 0.001;
    plan.skew_s = (trial % 97) / 97.0;
    auto store = testing_support::simulate(plan, seed);
    std::mt19937_64 random(seed + 1'000'000);
    const double residual_V = u_zero * std::normal_distribution<double>()(random);
    for (std::size_t i = 0; i < store.value.size() && store.time_s[i] < plan.zero_s; ++i)
        store.value[i] += residual_V;
    const auto runs = testing_support::cut(store);
    if (runs.size() != 1) return {};
    plan::DecayRules rules;
    rules.levels = {*plan::parse_level("0.03")};
    rules.residual_limit_V = u_zero * std::sqrt(3.0);
    return decay::figures_of(runs.front(), rules, {}).levels.front();
}

TEST(MonteCarloStudy, ItsIntervalHoldsNearAFlatTail) {
    const double truth_s = passes(level);
    Tally drawn, first_order;
    int missing = 0, beyond = 0;
    std::string why;
    std::mutex guard;
    std::atomic<int> next = 0;
    const auto work = [&] {
        for (int trial = next++; trial < trials; trial = next++) {
            const decay::LevelFigure figure = one_trial(trial);
            if (figure.status != decay::LevelStatus::measured) {
                const std::lock_guard lock(guard);
                EXPECT_EQ(figure.status, decay::LevelStatus::too_noisy) << figure.reason;
                ++missing;
                why = figure.reason;
                continue;
            }
            const double k =
                figure.degrees_of_freedom
                    ? boost::math::quantile(boost::math::students_t(*figure.degrees_of_freedom), 0.975)
                    : 1.959964;
            const double expanded_s = k * *figure.u_decay_s;
            const decay::MonteCarloTime monte_carlo =
                decay::monte_carlo_time(*figure.decay_s, expanded_s, figure.budget, figure.local_fall, 1);
            const std::lock_guard lock(guard);
            drawn.add({monte_carlo.low_s, monte_carlo.high_s}, truth_s);
            first_order.add({*figure.decay_s - expanded_s, *figure.decay_s + expanded_s}, truth_s);
            beyond += monte_carlo.beyond > 0.025;
        }
    };
    std::vector<std::thread> workers;
    for (unsigned i = 0; i < std::max(1u, std::thread::hardware_concurrency()); ++i)
        workers.emplace_back(work);
    for (std::thread& worker : workers) worker.join();

    const double reach = 1.959964 * u_zero * (1 - level);
    const double oracle_s = passes(level - reach) - passes(level + reach);
    std::cout << "  truth " << truth_s << " s; Monte Carlo: " << drawn << "\n  first order: " << first_order
              << "\n  oracle's width " << oracle_s << " s; ends beyond the record: " << beyond
              << "; without a figure: " << missing << " " << why << "\n";
    EXPECT_LE(missing, 10) << why;
    EXPECT_GE(drawn.covered, 921);
    EXPECT_LE(drawn.covered, 975);
    EXPECT_LE(std::max(drawn.early, drawn.late), 45);
    EXPECT_LE(drawn.median_width_s(), 1.25 * oracle_s);
}

}  // namespace
}  // namespace ebbtide
