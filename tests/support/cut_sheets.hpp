#pragma once
// Sheets that tests follow, and what they ask of them.

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <vector>

#include "sheet/forward.hpp"

namespace ebbtide::sheet {

/// Clamps of 25 mm, 76.2 mm apart, sensor at 25 mm, wall 50 mm behind; and one that lies on a backing, whose
/// sensor looks at a point.
inline constexpr CrossSection hanging{0.0762, 0.025, 0.025, 0.05};
inline constexpr Backing backed{0.0762, 1e-9, 0, 0.1};

/// Of a backed sheet with perfect contacts: T1 = R_s c L^2 / pi^2.
inline double slowest_s(const Backing& sheet, double surface_resistivity_ohm_sq) {
    return surface_resistivity_ohm_sq * sheet.capacitance_F_m2 * std::pow(sheet.gap_m / std::numbers::pi, 2);
}

/// The middle of a backed sheet between perfect contacts, over its start: the plane-wall series of any
/// heat-transfer handbook, Bi -> infinity.
inline double plane_wall(double t_over_T1) {
    double sum = 0;
    for (int k = 0; k < 60; ++k) {
        const int n = 2 * k + 1;
        sum += 4 / std::numbers::pi * (k % 2 ? -1 : 1) / n * std::exp(-n * n * t_over_T1);
    }
    return sum;
}

inline CutSheet cut(const Fixture& fixture, std::size_t strips = 0) {
    auto sheet = cut_sheet(fixture, strips);
    EXPECT_TRUE(sheet.ok());
    return sheet.value();
}

inline Course course_of(const CutSheet& sheet, const Material& material, const Clamps& clamps,
                        const std::vector<double>& times_s, const Options& options = {}) {
    const auto course = simulate(sheet, material, clamps, times_s, options);
    EXPECT_TRUE(course.ok()) << (course ? "" : course.error().text());
    return course.ok() ? course.value() : Course{};
}

/// Infinite for lists that are empty or of two lengths.
inline double largest_difference(const std::vector<double>& a, const std::vector<double>& b) {
    double out = a.size() == b.size() && !a.empty() ? 0 : std::numeric_limits<double>::infinity();
    for (std::size_t i = 0; i < std::min(a.size(), b.size()); ++i) out = std::max(out, std::abs(a[i] - b[i]));
    return out;
}

}  // namespace ebbtide::sheet
