#pragma once
// Random decays of five laws for which reference tools recorded the lowest sum of squares. They are made from
// a counter by a few lines of integer arithmetic, so that every tool makes the same ones; law_fits.py has the
// same lines. This file asks nothing of the product.

#include <array>
#include <cmath>
#include <cstdint>
#include <numbers>
#include <string>
#include <vector>

namespace ebbtide::references {

// Stated before any fit was run: law k, trial i has seed seed_base + 1000 k + i. The first trials have 40 to
// 399 samples, the rest 20 to 1,999, evenly spread over the decades.
inline constexpr std::uint64_t seed_base = 20261127;
inline constexpr int short_trials = 200;
inline constexpr int all_trials = 220;
inline const std::array<std::string, 5> laws{"exponential", "two_exponentials", "three_exponentials",
                                             "stretched", "power"};

/// splitmix64, public domain (Vigna).
class Numbers {
  public:
    explicit Numbers(std::uint64_t seed) : state_(seed) {}
    double uniform() {
        state_ += 0x9E3779B97F4A7C15ull;
        std::uint64_t z = state_;
        z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9ull;
        z = (z ^ (z >> 27)) * 0x94D049BB133111EBull;
        z ^= z >> 31;
        return static_cast<double>(z >> 11) * 0x1p-53;
    }
    /// Even on a log scale.
    double between(double low, double high) {
        return std::exp(std::log(low) + uniform() * std::log(high / low));
    }
    double normal() {
        const double radius = std::sqrt(-2 * std::log(1 - uniform()));
        return radius * std::cos(2 * std::numbers::pi * uniform());
    }

  private:
    std::uint64_t state_;
};

struct RandomDecay {
    std::size_t law = 0;     ///< position in `laws`
    bool offset = false;     ///< to be fitted too
    std::size_t shapes = 0;  ///< time constants, or time constant and exponent
    std::vector<double> x;   ///< 0 to 1 in even steps, or 0.001 to 1 in even ratios
    std::vector<double> y;
};

/// Relaxation of unit height: term k of a sum of exponentials, or the law itself (k = 0).
inline double relaxation(std::size_t law, double x, const std::vector<double>& theta, std::size_t k) {
    if (law == 3) return std::exp(-std::pow(x / theta[0], theta[1]));
    if (law == 4) return std::pow(1 + x / theta[0], -theta[1]);
    return std::exp(-x / theta[k]);
}

inline RandomDecay random_decay(std::size_t law, int trial) {
    Numbers numbers(seed_base + static_cast<std::uint64_t>(trial) + 1000 * law);
    RandomDecay out{law, false, 0, {}, {}};
    const double length = numbers.uniform();
    const int count =
        static_cast<int>(trial < short_trials ? 40 + std::floor(360 * length) : 20 * std::pow(100, length));
    const bool even = numbers.uniform() < 0.5;
    out.offset = numbers.uniform() < 0.5;
    std::vector<double> theta, amplitudes;
    if (law >= 3) {
        theta.push_back(numbers.between(0.02, 0.5));
        theta.push_back(law == 3 ? 0.3 + 0.9 * numbers.uniform() : 0.5 + 2 * numbers.uniform());
        amplitudes.push_back(1);
    } else {
        double constant = numbers.between(0.02, 0.2);
        for (std::size_t k = 0; k <= law; ++k) {
            theta.push_back(constant);
            constant *= 1.5 + 4 * numbers.uniform();
            const double sign = numbers.uniform() < 0.2 ? -1 : 1;
            amplitudes.push_back(sign * (0.2 + numbers.uniform()));
        }
    }
    out.shapes = theta.size();
    const double level = out.offset ? 0.2 * numbers.normal() : 0;
    const double noise = numbers.between(1e-4, 1e-1);
    for (int i = 0; i < count; ++i) {
        const double share = static_cast<double>(i) / (count - 1);
        out.x.push_back(even ? share : std::pow(10, -3 + 3 * share));
        double y = level;
        for (std::size_t k = 0; k < amplitudes.size(); ++k)
            y += amplitudes[k] * relaxation(law, out.x.back(), theta, k);
        out.y.push_back(y + noise * numbers.normal());
    }
    return out;
}

}  // namespace ebbtide::references
