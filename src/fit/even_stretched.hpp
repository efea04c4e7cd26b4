#pragma once
// A stretched exponential on evenly spaced samples that all weigh alike: the quick way of even_descent.hpp.

#include <optional>

#include "fit/curve.hpp"

namespace ebbtide::fit {

struct EvenStretched {
    double amplitude = 0, time_constant = 0, exponent = 0;  ///< units of y and x
    double offset = 0;                                      ///< 0 without one
    double rss = 0;                                         ///< to 1e-9 of it
};

/// y = amplitude exp(-(x / time_constant)^exponent) + offset (when `with_offset`) + constant. Nothing where
/// the points are not even, weighted, not finite, before zero, fewer than 100, or where the answer does not
/// vouch for itself: bottom proven, both parameters well known, residuals without a shape of their own. Then
/// the general way must decide.
[[nodiscard]] std::optional<EvenStretched> fit_even_stretched(const Curve& curve, bool with_offset,
                                                              double constant);

}  // namespace ebbtide::fit
