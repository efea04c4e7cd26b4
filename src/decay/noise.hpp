#pragma once
// The noise of a specimen channel: a white part and a band-limited part. Field sensors are band-limited, so
// that neighbouring samples say nearly the same; an uncertainty that ignores this is far too small.

#include <optional>
#include <span>
#include <vector>

#include "trace/samples.hpp"

namespace ebbtide::decay {

/// Autocovariance: white_V^2 at lag zero, plus band_V^2 * exp(-lag / correlation_s).
struct NoiseModel {
    double white_V = 0;
    double band_V = 0;
    double correlation_s = 0;       ///< 0 when there is no band-limited part
    double degrees_of_freedom = 0;  ///< of the variance, approximate
    bool from_step = false;         ///< the recorder's step was larger than the noise and stands in for it

    [[nodiscard]] double sample_V() const;

    /// Standard deviation of sum(weight_i * noise(time_i)), in volts. Times do not decrease. O(n).
    [[nodiscard]] double of_weighted_sum(std::span<const double> time_s,
                                         std::span<const double> weight) const;
    /// Standard deviation of the mean of samples at these times.
    [[nodiscard]] double of_mean(std::span<const double> time_s) const;
};

/// What the noise is estimated from.
struct NoiseEvidence {
    std::vector<trace::Samples> levels;  ///< stretches in which the signal stands still: zero, hold
    trace::Samples fall;                 ///< from the release to the end of the record; may be empty
    double fall_base_V = 0;              ///< reading of a discharged specimen
    double fall_scale_s = 0;             ///< time in which the fall covers a factor e, roughly
};

/// Third differences over lags of 1, 2, 4 ... samples take the smooth signal away and leave the noise; the
/// two parts and the correlation time are fitted to their mean squares. Where the fall is too steep for a lag
/// it is not used. Fewer than eight differences: the recorder's step is all that is known. Never less than
/// step / sqrt(12).
[[nodiscard]] NoiseModel estimate_noise(const NoiseEvidence& evidence);

}  // namespace ebbtide::decay
