#pragma once
// Sums of evenly spaced samples against decaying exponentials, z^i = e^(rate i) of sample i.

#include <array>
#include <cstddef>
#include <span>

namespace ebbtide::lanes {

/// Exponentials in one sum at most.
inline constexpr std::size_t most_parts = 3;

/// A sum of exponentials and a constant, by sample; rates < 0.
struct DecaySum {
    std::size_t parts = 0;
    std::array<double, most_parts> rate{}, amplitude{};
    double constant = 0;
};

/// Of the residuals r = y - sum.
struct ResidualSums {
    double squares = 0, plain = 0;
    std::array<double, most_parts> with{}, with_index{};  ///< sum of r z^i, of r i z^i
};

/// From explicit residuals: keeps the digits by which y exceeds them.
[[nodiscard]] ResidualSums residual_sums(std::span<const double> y, const DecaySum& sum);

/// The same in a third of the time, from moments of y and closed forms for the sum. What rounding leaves of
/// y^2, some 1e-16 sqrt(size) of its sum, is lost in `squares`.
[[nodiscard]] ResidualSums residual_moments(std::span<const double> y, const DecaySum& sum);

}  // namespace ebbtide::lanes
