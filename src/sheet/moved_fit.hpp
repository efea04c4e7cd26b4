#pragma once
// What a fit says of points that are not quite where they seem.

#include <vector>

#include "fit/fit.hpp"

namespace ebbtide::sheet {

/// What becomes of the logarithms of the shape parameters when all points lie so much later and higher:
/// nothing where they cannot be fitted there.
[[nodiscard]] std::vector<double> moved_by(const fit::Law& law, const fit::Curve& curve, const fit::Fit& fit,
                                           double later_s, double higher_V);

}  // namespace ebbtide::sheet
