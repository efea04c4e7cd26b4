#pragma once
// Mean and standard deviation of a few values.

#include <cmath>
#include <span>

namespace ebbtide::stats {

struct Moments {
    double n = 0;
    double mean = 0;
    double variance = 0;  ///< with n - 1; 0 for fewer than two values

    [[nodiscard]] double s() const { return std::sqrt(variance); }
};

[[nodiscard]] inline Moments moments_of(std::span<const double> values) {
    Moments out{static_cast<double>(values.size()), 0, 0};
    if (values.empty()) return out;
    // From the first value on, so that values all the same have no variance at all.
    for (const double value : values) out.mean += (value - values.front()) / out.n;
    out.mean += values.front();
    if (values.size() < 2) return out;
    for (const double value : values) out.variance += (value - out.mean) * (value - out.mean) / (out.n - 1);
    return out;
}

}  // namespace ebbtide::stats
