#pragma once
// Noise whose samples remember each other, and what it does to standard errors.

#include <span>

namespace ebbtide::fit {

/// Autocovariance: white^2 at lag zero, plus band^2 * exp(-lag / correlation). In the units of y and x.
struct LagNoise {
    double white = 0;
    double band = 0;
    double correlation = 0;  ///< 0 when there is no band-limited part

    [[nodiscard]] double variance() const { return white * white + band * band; }
    /// Variance of a mean of many samples `interval` apart, over that of as many independent ones; at
    /// least 1.
    [[nodiscard]] double variance_ratio(double interval) const;
};

/// By maximum likelihood from residuals at ascending x, spacing free. The band-limited part must raise the
/// log likelihood by 3 to be believed. Of more than 65536 residuals, 64 stretches of 1024 neighbours serve.
/// O(n). Fewer than 8 residuals: all white.
[[nodiscard]] LagNoise lag_noise_of(std::span<const double> x, std::span<const double> residual);

}  // namespace ebbtide::fit
