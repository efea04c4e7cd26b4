#pragma once
// Where a falling curve first reaches a level and stays at or below it.
//
// The samples either side of the level say little when there is noise: the place is sought on block means as
// wide as the noise asks for, then located by a parabola over a stretch sized to make noise and curvature
// bias together smallest (docs/handbook/02-figures.md; docs/decisions/0004).

#include <optional>
#include <vector>

#include "decay/noise.hpp"
#include "trace/samples.hpp"

namespace ebbtide::decay {

struct Crossing {
    double time_s = 0;
    double slope_V_s = 0;  ///< negative
    double scale_s = 0;    ///< time in which the curve falls by a factor e hereabouts, from the elapsed time
    double u_noise_s = 0;  ///< noise of the samples at the crossing
    double bias_s = 0;     ///< largest bias that the curvature left may cause
    std::size_t first = 0, last = 0;  ///< samples [first, last) used
    std::vector<double> weights;      ///< d time / d sample for those samples, seconds per volt
};

struct CrossingResult {
    enum class Outcome { found, not_reached, too_noisy, at_start } outcome = Outcome::too_noisy;
    std::optional<Crossing> first;  ///< found: first stay at or below the level
    std::optional<double>
        last_s;  ///< found, and the curve itself came back above the level: the last crossing
};

/// `fall` holds volts after zero and sign, times from the release; the first sample is at or after it.
/// `usable_from_s`: earlier samples belong to the electrode's own fall. `initial_V` > level_V. Outcome
/// at_start: already below at the first sample.
[[nodiscard]] CrossingResult find_crossing(const trace::Samples& fall, double level_V, double initial_V,
                                           double usable_from_s, const NoiseModel& noise);

}  // namespace ebbtide::decay
