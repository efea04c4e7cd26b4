#pragma once
// The change point of a channel by maximum likelihood: a constant that turns into a fall.

#include <optional>
#include <vector>

#include "decay/noise.hpp"
#include "trace/samples.hpp"

namespace ebbtide::decay {

struct Kink {
    double time_s = 0;
    double u_time_s = 0;       ///< from noise, with the bias that the curvature left may cause
    bool accelerates = false;  ///< the fall grows steeper after the kink: the curve waited before it
    std::vector<double>
        weights;  ///< d time / d sample for the first samples, seconds per volt; empty: placed between two
};

/// Least squares of a constant up to the kink and a parabola after it, the kink free between from_s and to_s.
/// `samples` starts at the steady part of the hold, values positive and falling; scale_s: rough time in which
/// the fall covers a factor e. Nothing when there is no fall to find.
[[nodiscard]] std::optional<Kink> find_kink(const trace::Samples& samples, double from_s, double to_s,
                                            double scale_s, const NoiseModel& noise);

}  // namespace ebbtide::decay
