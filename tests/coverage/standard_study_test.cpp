// Does the stated uncertainty of a check standard's time constant hold the truth? Fixed before the run: N =
// 1000, seed 20,261,126 + trial; a true 95 % covers 921 to 975 of them (two-sided 1e-4). R 1 gigohm, C 100
// pF, stray 0 to 10 pF to earth and 0 to 10 pF to the clamps; clamps that fall in 1 to 20 ms, a sensor that
// lags by 1 to 20 ms, a hold of 1 to 5 s; white and band-limited noise, a zero that is off within its u.

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <random>

#include "sheet/standard_fall.hpp"

namespace ebbtide::sheet {
namespace {

constexpr int trials = 1000;
constexpr std::uint64_t seed_base = 20261126;
constexpr double clamp_V = 5000, resistance_ohm = 1e9;

struct Standard {
    double sum_F = 0, to_clamps_F = 0;
    Between between = {};
    [[nodiscard]] double drop() const { return to_clamps_F / sum_F; }
    [[nodiscard]] double T_s() const { return resistance_ohm * sum_F; }
};

/// What the sensor shows at t, 1 V on the clamps until 0: clamp and plate solved by a Runge and Kutta method
/// of order 4 from the two resistor and capacitor laws, nothing of the product in it.
std::vector<double> shown(const Standard& standard, std::span<const double> times_s) {
    const double T = standard.T_s(), f = standard.between.fall_s, s = standard.between.lag_s,
                 drop = standard.drop();
    // Plate: R sum dV/dt = clamp - V + R Cc dclamp/dt. Without Cc's part u: V = u + drop clamp.
    double u = (1 - drop) * (1 - std::exp(-*standard.between.hold_s / T)), y = u + drop;
    // The hold's lag is over but for the charge that still comes: y' = 0 to first order of s / hold.
    y -= s * (1 - drop) * std::exp(-*standard.between.hold_s / T) / T;
    double t = 0;
    std::vector<double> out;
    const auto clamp = [&](double at) { return std::exp(-at / f); };
    const auto rates = [&](double at, double plate, double sensor) {
        const double V = plate + drop * clamp(at);
        return std::pair{((1 - drop) * clamp(at) - plate) / T, (V - sensor) / s};
    };
    const double step = std::min({f, s, T}) / 20;
    for (const double end : times_s) {
        while (t < end) {
            const double h = std::min(step, end - t);
            const auto a = rates(t, u, y);
            const auto b = rates(t + h / 2, u + h / 2 * a.first, y + h / 2 * a.second);
            const auto c = rates(t + h / 2, u + h / 2 * b.first, y + h / 2 * b.second);
            const auto d = rates(t + h, u + h * c.first, y + h * c.second);
            u += h / 6 * (a.first + 2 * b.first + 2 * c.first + d.first);
            y += h / 6 * (a.second + 2 * b.second + 2 * c.second + d.second);
            t = h < step ? end : t + h;
        }
        out.push_back(y);
    }
    return out;
}

TEST(CheckStandardFall, CoversItsTimeConstant) {
    int answered = 0, covered = 0, covered_by_noise_alone = 0;
    std::vector<double> z, width, oracle;
    for (int k = 0; k < trials; ++k) {
        std::mt19937_64 random(seed_base + static_cast<std::uint64_t>(k));
        std::uniform_real_distribution<double> uniform;
        std::normal_distribution<double> normal;
        Standard truth;
        truth.to_clamps_F = 10e-12 * uniform(random);
        truth.sum_F = 100e-12 + 10e-12 * uniform(random) + truth.to_clamps_F;
        truth.between = {0.001 * std::pow(20, uniform(random)), 0.001 * std::pow(20, uniform(random)),
                         1 + 4 * uniform(random)};
        fit::CurveStore curve;
        for (int i = 0; i < 400; ++i)
            curve.x.push_back(3 * truth.between.fall_s + 0.0015 * static_cast<double>(i));
        curve.y = shown(truth, curve.x);
        const double u_zero_V = 3, zero_V = u_zero_V * normal(random), white_V = 5, band_V = 7,
                     band_s = 0.004;
        const double keep = std::exp(-0.0015 / band_s);
        double band = normal(random);
        for (double& V : curve.y) {
            V = clamp_V * V + zero_V + white_V * normal(random) + band_V * band;
            band = keep * band + std::sqrt(1 - keep * keep) * normal(random);
        }
        SeenFall fall;
        fall.curve = curve.view();
        fall.between = truth.between;
        fall.held_V =
            clamp_V * (1 - (1 - truth.drop()) * std::exp(-*truth.between.hold_s / truth.T_s())) + zero_V;
        fall.clamp_V = clamp_V;
        fall.u_zero_V = u_zero_V;
        const StandardFall found = standard_fall(fall);
        if (!found.reason.empty()) continue;
        ++answered;
        const double off = std::log(found.time_constant_s / truth.T_s());
        covered += std::abs(off) <= 1.96 * found.u_relative;
        covered_by_noise_alone += std::abs(off) <= 1.96 * found.u_noise;
        width.push_back(found.u_relative);
        // Who knows the noise: least squares of a lone exponential, its noise as one sample in so many.
        const double spread_V = std::sqrt(white_V * white_V + band_V * band_V * (1 + keep) / (1 - keep));
        double sum_tt = 0, sum_t = 0, sum_1 = 0, to_zero = 0, to_zero_1 = 0;
        for (const double t : curve.x) {
            const double e = clamp_V * std::exp(-t / truth.T_s()), d = e * t / truth.T_s();
            sum_tt += d * d;
            sum_t += d * e;
            sum_1 += e * e;
            to_zero += d;
            to_zero_1 += e;
        }
        const double determinant = sum_tt * sum_1 - sum_t * sum_t;
        const double by_noise = spread_V * std::sqrt(sum_1 / determinant),
                     by_zero = u_zero_V * (sum_1 * to_zero - sum_t * to_zero_1) / determinant;
        oracle.push_back(std::hypot(by_noise, by_zero));
    }
    const auto median = [](std::vector<double> values) {
        std::ranges::nth_element(values, values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2));
        return values[values.size() / 2];
    };
    EXPECT_EQ(answered, trials);
    EXPECT_GE(covered, 921);
    EXPECT_LE(covered, 975);
    EXPECT_LE(median(width) / median(oracle), 1.25);
    EXPECT_LT(covered_by_noise_alone, 921) << "without the zero the study could not fail";
    std::printf(
        "check standard: %d of %d covered (%d by noise alone), u over the oracle's %.3f (median %.2g)\n",
        covered, answered, covered_by_noise_alone, median(width) / median(oracle), median(width));
}

}  // namespace
}  // namespace ebbtide::sheet
