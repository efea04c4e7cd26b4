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
    for (const double value : values) out.mean += value / out.n;
    if (values.size() < 2) return out;
    for (const double value : values) out.variance += (value - out.mean) * (value - out.mean) / (out.n - 1);
    return out;
}

}  // namespace ebbtide::stats
