#pragma once
// What a quantity does between two instants at which something is switched: enough to have it at any time in
// between, and behind a slow sensor too, without a step of time.

#include <array>
#include <limits>
#include <vector>

#include "sheet/clamp_voltage.hpp"

namespace ebbtide::sheet {

/// Exponentials of a linear sheet and of its clamps, and a cubic where steps found the course. Times count
/// from the start of the stretch and lie in 0 to its length.
struct Stretch {
    double length_s = std::numeric_limits<double>::infinity();
    std::vector<ExponentialPart> parts;
    std::array<double, 4> cubic{};  ///< of 1, t, t^2, t^3

    [[nodiscard]] double at(double t) const;
    /// The same behind a first-order lag (s, at least 0) that stands at `start` when the stretch begins.
    /// Exact, but for a part whose time constant is the lag's to 1e-7: it moves by 4e-8 of itself.
    [[nodiscard]] Stretch lagged(double lag_s, double start) const;
    /// What is left of it after t, as a stretch of its own.
    [[nodiscard]] Stretch after(double t) const;
};

/// Rates this close to each other, relatively, are told apart by moving one: what divides by their difference
/// keeps eight digits.
inline constexpr double told_apart = 1e-7;

/// `rate`, moved where it would be mistaken for `other`.
[[nodiscard]] double apart_from(double rate, double other);

}  // namespace ebbtide::sheet
