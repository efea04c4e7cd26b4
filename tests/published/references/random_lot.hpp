#pragma once
// Random lots that reference tools have fitted. They are made from a counter by a few lines of integer
// arithmetic, so that every tool makes the same ones; lot_fits.py has the same lines.

#include <cmath>
#include <limits>
#include <vector>

#include "published/references/random_decay.hpp"

namespace ebbtide::references {

// Stated before any fit was run: lot i has seed lot_seed_base + i. In turns of four: all times known exactly;
// lower bounds at a limit; lower and upper bounds; times between the steps of a clock, and lower bounds.
inline constexpr std::uint64_t lot_seed_base = 20261201;
inline constexpr int all_lots = 1000;

/// A time and where it is known to lie; equal where it is known exactly.
struct TimeBounds {
    double lower = 0, upper = std::numeric_limits<double>::infinity();
};

inline std::vector<TimeBounds> random_lot(int trial) {
    Numbers numbers(lot_seed_base + static_cast<std::uint64_t>(trial));
    const int count = 5 + static_cast<int>(26 * numbers.uniform());
    const double median = numbers.between(0.05, 5), sigma = numbers.between(0.1, 1);
    const bool normal = numbers.uniform() < 0.5;
    const int kind = trial % 4;
    constexpr double infinite = std::numeric_limits<double>::infinity();
    const double limit = kind > 0 ? median * std::exp(0.5 * sigma) : infinite;
    const double resolution = kind == 2 ? median * std::exp(-sigma) : 0;
    const double step = 0.5 * median * sigma;
    std::vector<TimeBounds> out;
    for (int i = 0; i < count; ++i) {
        const double z = normal ? numbers.normal() : std::log(-std::log(1 - numbers.uniform()));
        const double time = median * std::exp(sigma * z);
        if (time > limit) {
            out.push_back({limit, infinite});
        } else if (time < resolution) {
            out.push_back({0, resolution});
        } else if (kind == 3) {
            const double k = std::ceil(time / step) - 1;
            out.push_back({k * step, (k + 1) * step});
        } else {
            out.push_back({time, time});
        }
    }
    return out;
}

}  // namespace ebbtide::references
