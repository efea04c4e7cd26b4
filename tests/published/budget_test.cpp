// The arithmetic of budgets against published examples of the Guide (JCGM 100:2008).

#include <gtest/gtest.h>

#include <cmath>

#include "decay/budget.hpp"
#include "support/agrees.hpp"

namespace ebbtide::decay {
namespace {

using testing_support::agrees;

Contribution part(double u, std::optional<double> freedom) {
    return {"part", u, "1", 1, freedom, Scope::run, ""};
}

TEST(Budget, EffectiveDegreesOfFreedomOfTwoParts) {
    // 0.57 with 9 and 0.25 with infinitely many: 12.8 (a worked example of the Welch-Satterthwaite formula in
    // a public test set).
    const std::vector<Contribution> budget{part(0.57, 9), part(0.25, {})};
    EXPECT_TRUE(agrees(*effective_degrees_of_freedom(budget), "12.8"));
}

TEST(Budget, EndGaugeOfTheGuide) {
    // JCGM 100:2008, H.1: u(l) = 32 nm with 16 degrees of freedom (cut, not rounded), from 25 nm (18), 9.7 nm
    // (25.6), and the two products of length with the differences of expansion and temperature, 50 mm * 0.1 K
    // * 1e-6/sqrt 3 (50) and 50 mm * 11.5e-6 * 0.05 K/sqrt 3 (2).
    const double length_nm = 50000623;
    const std::vector<Contribution> budget{
        part(25, 18),
        part(9.7, 25.6),
        {"expansion", 1e-6 / std::sqrt(3.0), "1/K", length_nm * 0.1, 50, Scope::run, ""},
        {"temperature", 0.05 / std::sqrt(3.0), "K", length_nm * 11.5e-6, 2, Scope::run, ""}};
    EXPECT_TRUE(agrees(combined_u_s(budget), "32"));
    EXPECT_EQ(static_cast<int>(*effective_degrees_of_freedom(budget)), 16);
}

TEST(Budget, OfAMeanAveragesTheRunsOwnPartsOnly) {
    // Four runs, 3 each of their own and 4 shared: sqrt((3/2)^2 + 4^2), by hand.
    const std::vector<Contribution> run{{"noise", 3, "s", 1, {}, Scope::run, ""},
                                        {"lag", 4, "s", 1, {}, Scope::bench, ""}};
    const std::vector<std::span<const Contribution>> runs(4, run);
    EXPECT_TRUE(agrees(u_of_mean_s(runs), "4.272"));
}

}  // namespace
}  // namespace ebbtide::decay
