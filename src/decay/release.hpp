#pragma once
// When the clamps were earthed, by the best source that the recording holds.

#include <optional>
#include <vector>

#include "decay/figures.hpp"
#include "decay/run_phases.hpp"

namespace ebbtide::decay {

struct Release {
    double time_s = 0;
    double u_s = 0;
    ReleaseSource source = ReleaseSource::change_point;
    std::optional<double>
        delay_s;  ///< mean delay of the electrode's own fall: the area under it over its height
    std::optional<double> settled_s;  ///< when the electrode had come to rest
    bool bounced = false;
    bool through_sensor = true;  ///< taken from the sensor's own voltage, whose lag then cancels
    bool waits = false;          ///< change point: the fall grows steeper after it
    // change point: how the noise of specimen samples [first, first + weights.size()) moves the time, seconds
    // per volt (after sign)
    std::size_t first = 0;
    std::vector<double> weights;
};

/// The sensed electrode voltage first, then the marker, then the change point of the specimen voltage, then
/// the start of the record.
[[nodiscard]] Release find_release(const RunTrace& run, const RunPhases& phases,
                                   const std::optional<plan::Bench>& bench);

}  // namespace ebbtide::decay
