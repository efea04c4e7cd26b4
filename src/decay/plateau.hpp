#pragma once
// Where a channel stands still: the zero before the charge, the steady end of the hold.

#include "decay/noise.hpp"
#include "trace/samples.hpp"

namespace ebbtide::decay {

/// Mean of the values; 0 when there are none.
[[nodiscard]] double mean_of(const trace::Samples& samples);

struct Plateau {
    std::size_t first = 0, last = 0;  ///< samples [first, last)
    double mean_V = 0;
    double u_mean_V = 0;  ///< from noise, and from a drift beyond it
    double drift_V = 0;   ///< second half less first half
    bool steady = true;   ///< the halves agree within noise and 0.5 % of `size_V`

    [[nodiscard]] bool empty() const { return first == last; }
};

/// The mean over all of `samples`; size_V is the size of the run, for judging steadiness.
[[nodiscard]] Plateau plateau_of(const trace::Samples& samples, double size_V, const NoiseModel& noise);

/// The longest stretch at the end of `samples` whose eighths agree with each other within noise and
/// tolerance_V: the steady end of a hold, the zero after a tail has died away.
[[nodiscard]] Plateau steady_end(const trace::Samples& samples, double size_V, double tolerance_V,
                                 const NoiseModel& noise);

}  // namespace ebbtide::decay
