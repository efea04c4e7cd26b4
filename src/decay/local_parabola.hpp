#pragma once
// A parabola laid through a stretch of samples by least squares: the local picture of a curve.

#include <optional>
#include <vector>

#include "trace/samples.hpp"

namespace ebbtide::decay {

struct LocalParabola {
    double at_s = 0;
    double value = 0;                   ///< at at_s, in the samples' unit
    double slope = 0;                   ///< per second
    double curvature = 0;               ///< second derivative, per second squared
    std::vector<double> value_weights;  ///< value = sum(weight_i * sample_i): carries the noise to the value
    std::vector<double> slope_weights;
};

/// Through at least three samples of different times (through two: a straight line); nothing when there are
/// fewer.
[[nodiscard]] std::optional<LocalParabola> fit_local_parabola(const trace::Samples& samples, double at_s);

}  // namespace ebbtide::decay
