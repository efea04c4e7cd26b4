// The sheet that hangs between clamps, against closed forms, finite differences and figures of two
// independent 2-D models.

#include "sheet/modes.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <numeric>

#include "support/agrees.hpp"

namespace ebbtide::sheet {
namespace {

using std::numbers::pi;
using testing_support::agrees;

constexpr double vacuum_F_m = 8.8541878128e-12;  // CODATA 2018
constexpr CrossSection near{0.0762, 0.025, 0.0127, 0.05}, far{0.0762, 0.025, 0.025, 0.05};

Modes modes_of(const CrossSection& fixture) {
    const auto modes = hanging_modes(fixture);
    EXPECT_TRUE(modes.has_value());
    return modes.value_or(Modes{{1}, {1}, 0, 0});
}

double slowest_s(const CrossSection& fixture, double surface_resistivity_ohm_sq) {
    return surface_resistivity_ohm_sq * modes_of(fixture).capacitance_F_m2 * std::pow(fixture.gap_m / pi, 2);
}

double value_at(const Modes& modes, double t) {
    double sum = 0;
    for (std::size_t k = 0; k < modes.rate.size(); ++k) sum += modes.weight[k] * std::exp(-modes.rate[k] * t);
    return sum;
}

double time_to(const Modes& modes, double level) {
    double low = 0, high = 20;
    for (int i = 0; i < 60; ++i) (value_at(modes, (low + high) / 2) > level ? low : high) = (low + high) / 2;
    return low;
}

TEST(HangingSheet, HasTheSlowestModeOfTwoIndependentModels) {
    // Boundary elements and finite differences by others, who agree to 1 %: 0.063 to 0.064 s and 0.0464 to
    // 0.0466 s at 1e11 ohm; effective c 1.1e-9 and 0.79e-9 F/m2.
    EXPECT_TRUE(agrees(slowest_s(near, 1e11), "0.064"));
    EXPECT_TRUE(agrees(slowest_s(far, 1e11), "0.0466"));
    EXPECT_TRUE(agrees(modes_of(near).capacitance_F_m2, "1.1e-9"));
    EXPECT_TRUE(agrees(modes_of(far).capacitance_F_m2, "0.79e-9"));
}

TEST(HangingSheet, HasTheEvenModesOfThoseModels) {
    // The same two models, all modes: 1 : 2.28 : 3.43 : 4.52 (sensor at 25 mm) and 1 : 2.72 : 4.41 : 6.00
    // (12.7 mm). The even ones are the first and the third; 1.5 % for their grids.
    EXPECT_NEAR(modes_of(far).rate[1] / 3.43, 1, 0.015);
    EXPECT_NEAR(modes_of(near).rate[1] / 4.41, 1, 0.015);
}

TEST(HangingSheet, InducesWhatThoseModelsInduce) {
    // The same two models, which state whole per cents: 7, 11 and 28 % at 9.5, 12.5 and 25 mm with the wall
    // 50 mm behind, 34 and 52 % at 25 and 40 mm with the wall 100 mm behind. They print 28 and 34 where the
    // present model has 27.2 and 33.4: one unit of slack.
    const auto induced = [](double sensor_mm, double wall_mm) {
        return 100 * modes_of({0.0762, 0.025, sensor_mm / 1000, wall_mm / 1000}).induced_fraction;
    };
    EXPECT_TRUE(agrees(induced(9.5, 50), "7", 1));
    EXPECT_TRUE(agrees(induced(12.5, 50), "11", 1));
    EXPECT_TRUE(agrees(induced(25, 50), "28", 1));
    EXPECT_TRUE(agrees(induced(25, 100), "34", 1));
    EXPECT_TRUE(agrees(induced(40, 100), "52", 1));
}

TEST(HangingSheet, FallsInTheTimesOfThoseModels) {
    // From the hold reading t(10 %) = 1.99 T1 (25/50), printed by the same models.
    const Modes wide = modes_of(far), close = modes_of(near);
    EXPECT_TRUE(agrees(time_to(wide, 0.1 / (1 - wide.induced_fraction)), "1.99"));
    // From the reading just after the release they print .653, 2.273, 4.576 (25/50) and .810, 2.431, 4.734
    // (12.7/50). Those contradict their own 1.99 and 28 % induced, 1.99 + ln(1/0.72) = 2.32, and a third
    // model on a grid (fixture_on_grid_test.cpp: .691, 2.307, 4.609 and .785, 2.403, 4.705): 0.04 T1 of
    // slack, what they are off by.
    EXPECT_NEAR(time_to(wide, 0.5), 0.653, 0.04);
    EXPECT_NEAR(time_to(wide, 0.1), 2.273, 0.04);
    EXPECT_NEAR(time_to(wide, 0.01), 4.576, 0.04);
    EXPECT_NEAR(time_to(close, 0.5), 0.810, 0.04);
    EXPECT_NEAR(time_to(close, 0.1), 2.431, 0.04);
    EXPECT_NEAR(time_to(close, 0.01), 4.734, 0.04);
}

TEST(HangingSheet, BetweenNearPlanesIsASingleModesCapacitance) {
    // c_k = eps0 k (coth kh + coth kb), the field of a charge wave between earthed planes (any text on
    // electrostatics); k = (2m+1) pi/gap. The clamps' edges add some (h/gap)^2.
    const CrossSection flat{1, 0.3, 0.03, 0.02};
    const Modes modes = modes_of(flat);
    const auto c = [&](double k) {
        return vacuum_F_m * k *
               (1 / std::tanh(k * flat.sensor_distance_m) + 1 / std::tanh(k * flat.enclosure_behind_m));
    };
    EXPECT_NEAR(modes.capacitance_F_m2 / c(pi), 1, 2e-3);
    for (const std::size_t m : {1, 2, 3}) {
        const auto n = static_cast<double>(2 * m + 1);
        EXPECT_NEAR(modes.rate[m] / (n * n * c(pi) / c(n * pi)), 1, 0.02) << m;
    }
    // Plane wall of heat-transfer handbooks, Bi -> infinity: C1 = 1.2732.
    EXPECT_NEAR(modes.weight[0], 1.2732, 0.01);
    EXPECT_NEAR(modes.induced_fraction, 0, 1e-4);
}

/// Reading of a sensor over that of the sheet and clamps at 1 V, when only what lies beyond `from` is at 1 V
/// and no charge elsewhere: Laplace's equation on a square grid, Gauss-Seidel with over-relaxation. Lengths
/// in cells.
double field_on_grid(int half_gap, int clamp, int to_sensor, int behind, int from) {
    const int wide = half_gap + clamp + 2 * (to_sensor + behind), high = to_sensor + behind;
    std::vector<double> V(static_cast<std::size_t>((wide + 1) * (high + 1)));
    const auto at = [&](int i, int j) -> double& { return V[static_cast<std::size_t>(i * (high + 1) + j)]; };
    for (int i = from; i <= half_gap + clamp; ++i) at(i, behind) = 1;
    const double relax = 2 / (1 + std::sin(pi / high));
    for (int sweep = 0; sweep < 8 * high; ++sweep)
        for (int i = 0; i < wide; ++i)
            for (int j = 1; j < high; ++j) {
                if (j == behind && i >= from && i <= half_gap + clamp) continue;
                const double left = i ? at(i - 1, j) : at(1, j);
                at(i, j) += relax * ((left + at(i + 1, j) + at(i, j - 1) + at(i, j + 1)) / 4 - at(i, j));
            }
    return (4 * at(0, high - 1) - at(0, high - 2)) / 2;
}

TEST(HangingSheet, AndItsEmptyFixtureAddUpToTheHold) {
    // The empty fixture by finite differences, which know nothing of strips: 76 mm gap, 24 mm clamps. On a
    // grid the edges of plates reach half a cell too far: extrapolated from cells of 2 and 1 mm.
    for (const auto& [sensor_mm, wall_mm] : {std::pair{12, 48}, {24, 48}}) {
        const auto empty = [&](int cell_mm) {
            const auto reading = [&](int from) {
                return field_on_grid(38 / cell_mm, 24 / cell_mm, sensor_mm / cell_mm, wall_mm / cell_mm,
                                     from);
            };
            return reading(38 / cell_mm) / reading(0);
        };
        const double extrapolated = 2 * empty(1) - empty(2);
        const Modes modes = modes_of({0.076, 0.024, sensor_mm / 1000.0, wall_mm / 1000.0});
        const double after_release = 1 - modes.induced_fraction;
        EXPECT_NEAR(extrapolated + after_release, 1, 4e-3) << sensor_mm;
    }
}

RC_GTEST_PROP(HangingSheet, IsTheSameAtEveryScale, ()) {
    const double scale = std::pow(10, *rc::gen::inRange(-6, 7));
    const Modes a = modes_of(far);
    const Modes b = modes_of({0.0762 * scale, 0.025 * scale, 0.025 * scale, 0.05 * scale});
    RC_ASSERT(std::abs(b.capacitance_F_m2 * scale / a.capacitance_F_m2 - 1) < 1e-9);
    RC_ASSERT(std::abs(b.induced_fraction / a.induced_fraction - 1) < 1e-9);
    for (std::size_t k = 0; k < a.rate.size(); ++k) RC_ASSERT(std::abs(b.rate[k] / a.rate[k] - 1) < 1e-9);
}

RC_GTEST_PROP(HangingSheet, FallsFromItsStartWhateverTheFixture, ()) {
    const auto factor = [](int from, int to) { return std::pow(10, *rc::gen::inRange(from, to) / 10.0); };
    const CrossSection fixture{1, factor(-20, 20), factor(-20, 20), factor(-20, 20)};
    const auto modes = hanging_modes(fixture);
    RC_PRE(modes.has_value() || std::min(fixture.sensor_distance_m, fixture.enclosure_behind_m) < 1.0 / 149);
    if (!modes) return;
    RC_ASSERT(std::abs(std::accumulate(modes->weight.begin(), modes->weight.end(), 0.0) - 1) < 1e-12);
    RC_ASSERT(std::ranges::is_sorted(modes->rate) && modes->rate.front() == 1);
    RC_ASSERT(modes->induced_fraction > -1e-6 && modes->induced_fraction < 1);
    RC_ASSERT(modes->capacitance_F_m2 > 0 && std::isfinite(modes->capacitance_F_m2));
}

TEST(HangingSheet, IsNothingForLengthsThatAreNone) {
    for (const double bad : {0.0, -1.0, std::nan(""), std::numeric_limits<double>::infinity()})
        for (int which = 0; which < 4; ++which) {
            CrossSection fixture = far;
            (which == 0   ? fixture.gap_m
             : which == 1 ? fixture.clamp_m
             : which == 2 ? fixture.sensor_distance_m
                          : fixture.enclosure_behind_m) = bad;
            EXPECT_FALSE(hanging_modes(fixture).has_value()) << which << " " << bad;
        }
    EXPECT_FALSE(hanging_modes({1, 0.3, 0.005, 1}).has_value()) << "that is a backed sheet";
}

}  // namespace
}  // namespace ebbtide::sheet
