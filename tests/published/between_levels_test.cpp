// Times between two levels of falls whose times are known in closed form, and the limits that documents set
// on them.

#include <gtest/gtest.h>

#include <cmath>

#include "decay/figures.hpp"
#include "support/agrees.hpp"
#include "support/simulated_run.hpp"

namespace ebbtide {
namespace {

using testing_support::agrees;

double time_s(const std::function<double(double)>& fall, double record_s, const char* from,
              const char* level) {
    testing_support::RunPlan plan{.fall_s = record_s, .samples = 400000, .initial_V = 5000, .fall = fall};
    const auto store = testing_support::simulate(plan, 1);
    const auto runs = testing_support::cut(store);
    if (runs.size() != 1) throw std::runtime_error("not one run");
    plan::DecayRules rules;
    rules.from = *plan::parse_level(from);
    rules.levels = {*plan::parse_level(level)};
    const decay::LevelFigure figure = decay::figures_of(runs.front(), rules, {}).levels.front();
    if (!figure.decay_s) throw std::runtime_error(figure.reason);
    return *figure.decay_s;
}

TEST(BetweenLevels, AnExponentialTakesItsTimeConstantTimesTheLogarithm) {
    // exp(-t/T): t(50 %) 0.693147 T, t(10 %) 2.302585 T, t(1 %) 4.605170 T (computed).
    const auto fall = [](double t) { return std::exp(-t); };
    EXPECT_TRUE(agrees(time_s(fall, 7, "50 %", "10 %"), "1.6094"));  // 2.302585 - 0.693147
    EXPECT_TRUE(agrees(time_s(fall, 7, "10 %", "1 %"), "2.3026"));   // 4.605170 - 2.302585
    // 1000 V to 100 V, the charged plate of IEC 61340-2-1 (from memory), whatever it started from.
    EXPECT_TRUE(agrees(time_s(fall, 7, "1000 V", "100 V"), "2.3026"));
}

TEST(BetweenLevels, AHyperbolaTakesEightAndNinetyTimeConstants) {
    // 1/(1 + t/T): t(50 %) T, t(10 %) 9 T, t(1 %) 99 T (by hand).
    const auto fall = [](double t) { return 1 / (1 + t); };
    EXPECT_TRUE(agrees(time_s(fall, 140, "50 %", "10 %"), "8.00"));
    EXPECT_TRUE(agrees(time_s(fall, 140, "10 %", "1 %"), "90.0"));
}

TEST(BetweenLevels, AStretchedExponentialTakesTheDifferenceOfItsTimes) {
    // exp(-(t/T)^0.8): t(50 %) 0.632458 T, t(10 %) 2.836414 T, t(1 %) 6.746167 T (computed).
    const auto fall = [](double t) { return std::exp(-std::pow(t, 0.8)); };
    EXPECT_TRUE(agrees(time_s(fall, 10, "50 %", "10 %"), "2.204"));
    EXPECT_TRUE(agrees(time_s(fall, 10, "10 %", "1 %"), "3.910"));
}

}  // namespace
}  // namespace ebbtide
