#pragma once
// Are samples evenly spaced?

#include <span>

namespace ebbtide::lanes {

/// True when x[i] = x[0] + i * interval, interval = (last - first) / (size - 1) > 0: the squared distances
/// sum to no more than one of 1e-9 of the interval, or than rounding of x makes of all, up to 1e-7 each. Not
/// for fewer than two, nor where one is not finite.
[[nodiscard]] bool evenly_spaced(std::span<const double> x);

}  // namespace ebbtide::lanes
