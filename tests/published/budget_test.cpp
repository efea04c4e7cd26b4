// The arithmetic of budgets against published examples of the Guide (JCGM 100:2008).

#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <vector>

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

// JCGM 100:2008, H.2 (the Guide's example of correlated inputs): five simultaneous observations of voltage,
// current and phase give resistance, reactance and impedance.
struct Observed {
    double mean, u;  // of the mean
    std::vector<double> deviations;
};

Observed observed(const std::vector<double>& values) {
    Observed out{0, 0, {}};
    const double n = static_cast<double>(values.size());
    for (const double value : values) out.mean += value / n;
    double squares = 0;
    for (const double value : values) {
        out.deviations.push_back(value - out.mean);
        squares += out.deviations.back() * out.deviations.back();
    }
    out.u = std::sqrt(squares / (n * (n - 1)));
    return out;
}

double correlation(const Observed& a, const Observed& b) {
    double products = 0;
    for (std::size_t i = 0; i < a.deviations.size(); ++i) products += a.deviations[i] * b.deviations[i];
    const double n = static_cast<double>(a.deviations.size());
    return products / (n * (n - 1)) / (a.u * b.u);
}

struct Impedance {
    Observed V = observed({5.007, 4.994, 5.005, 4.990, 4.999});
    Observed I = observed({19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3});
    Observed phase = observed({1.0456, 1.0438, 1.0468, 1.0428, 1.0433});

    /// u of a quantity whose derivatives by V, I and phase are given.
    [[nodiscard]] double u(std::array<double, 3> d) const {
        const std::vector<Contribution> budget{
            {"voltage", V.u, "V", d[0], {}, Scope::run, "current", correlation(V, I)},
            {"current", I.u, "A", d[1], {}, Scope::run, "phase", correlation(I, phase)},
            {"phase", phase.u, "rad", d[2], {}, Scope::run, "voltage", correlation(V, phase)}};
        return combined_u_s(budget);
    }
    [[nodiscard]] std::array<double, 3> resistance() const {
        const double z = V.mean / I.mean;
        return {std::cos(phase.mean) / I.mean, -z * std::cos(phase.mean) / I.mean, -z * std::sin(phase.mean)};
    }
    [[nodiscard]] std::array<double, 3> reactance() const {
        const double z = V.mean / I.mean;
        return {std::sin(phase.mean) / I.mean, -z * std::sin(phase.mean) / I.mean, z * std::cos(phase.mean)};
    }
    [[nodiscard]] std::array<double, 3> impedance() const {
        return {1 / I.mean, -V.mean / (I.mean * I.mean), 0};
    }
};

TEST(Budget, CorrelatedInputsOfTheGuide) {
    const Impedance of;
    // Inputs: V 4.999 u 3.2e-3, I 19.661e-3 u 9.5e-6, phase 1.04446 u 7.5e-4; r -0.36, 0.86, -0.65.
    EXPECT_TRUE(agrees(of.V.u, "3.2e-3"));
    EXPECT_TRUE(agrees(of.I.u, "9.5e-6"));
    EXPECT_TRUE(agrees(of.phase.u, "7.5e-4"));
    EXPECT_TRUE(agrees(correlation(of.V, of.I), "-0.36"));
    EXPECT_TRUE(agrees(correlation(of.V, of.phase), "0.86"));
    EXPECT_TRUE(agrees(correlation(of.I, of.phase), "-0.65"));
    EXPECT_TRUE(agrees(of.V.mean / of.I.mean * std::cos(of.phase.mean), "127.732"));
    EXPECT_TRUE(agrees(of.V.mean / of.I.mean * std::sin(of.phase.mean), "219.847"));
    EXPECT_TRUE(agrees(of.V.mean / of.I.mean, "254.260"));
    EXPECT_TRUE(agrees(of.u(of.resistance()), "0.071"));
    EXPECT_TRUE(agrees(of.u(of.reactance()), "0.295", 1));  // 0.2956 with all digits: printed cut
    EXPECT_TRUE(agrees(of.u(of.impedance()), "0.236"));
}

TEST(Budget, CorrelatedResultsOfTheGuide) {
    // The same example prints r(R,X) -0.588, r(R,Z) -0.485, r(X,Z) 0.993 (third digits from memory); here
    // from the uncertainty of the sum of two results, whose sensitivities are the sums of theirs.
    const Impedance of;
    const auto r = [&](const std::array<double, 3>& a, const std::array<double, 3>& b) {
        const double sum = of.u({a[0] + b[0], a[1] + b[1], a[2] + b[2]});
        return (sum * sum - of.u(a) * of.u(a) - of.u(b) * of.u(b)) / (2 * of.u(a) * of.u(b));
    };
    EXPECT_TRUE(agrees(r(of.resistance(), of.reactance()), "-0.588"));
    EXPECT_TRUE(agrees(r(of.resistance(), of.impedance()), "-0.485"));
    EXPECT_TRUE(agrees(r(of.reactance(), of.impedance()), "0.993"));
}

}  // namespace
}  // namespace ebbtide::decay
