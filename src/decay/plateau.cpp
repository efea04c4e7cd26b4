#include "decay/plateau.hpp"

#include <algorithm>
#include <cmath>

namespace ebbtide::decay {
namespace {

constexpr double steady_share = 0.005;  // of the run's size: a slope that the eye would call level

}  // namespace

double mean_of(const trace::Samples& samples) {
    double sum = 0;
    for (const double v : samples.value) sum += v;
    return samples.empty() ? 0 : sum / static_cast<double>(samples.size());
}

Plateau plateau_of(const trace::Samples& samples, double size_V, const NoiseModel& noise) {
    Plateau plateau;
    if (samples.empty()) return plateau;
    plateau.last = samples.size();
    plateau.mean_V = mean_of(samples);
    plateau.u_mean_V = noise.of_mean(samples.time_s);
    // Where noise does not carry the samples over their last digit, they say little about where within it the
    // voltage lies.
    if (noise.sample_V() < 0.5 * noise.step_V)
        plateau.u_mean_V = std::hypot(plateau.u_mean_V, noise.step_V / std::sqrt(12.0));
    if (const std::size_t half = samples.size() / 2; half > 0) {
        const trace::Samples early = samples.slice(0, half), late = samples.slice(half, samples.size());
        plateau.drift_V = mean_of(late) - mean_of(early);
        const double u_V = std::hypot(noise.of_mean(early.time_s), noise.of_mean(late.time_s));
        plateau.steady = std::abs(plateau.drift_V) <= 4 * u_V + steady_share * size_V;
        // What drifts by more than its noise is known no better than a rectangle as wide as the drift.
        const double beyond_noise_V = std::max(0.0, std::abs(plateau.drift_V) - 2 * u_V);
        plateau.u_mean_V = std::hypot(plateau.u_mean_V, beyond_noise_V / std::sqrt(12.0));
    }
    return plateau;
}

Plateau steady_end(const trace::Samples& samples, double size_V, double tolerance_V,
                   const NoiseModel& noise) {
    const std::size_t n = samples.size();
    std::size_t first = n - n / 8;
    if (n < 16) first = 0;
    while (first > 0) {
        const std::size_t next = first > n / 8 ? first - n / 8 : 0;
        const trace::Samples kept = samples.slice(first, n), more = samples.slice(next, first);
        const double u_V = std::hypot(noise.of_mean(kept.time_s), noise.of_mean(more.time_s));
        if (std::abs(mean_of(more) - mean_of(kept)) > 3 * u_V + tolerance_V) break;
        first = next;
    }
    Plateau plateau = plateau_of(samples.slice(first, n), size_V, noise);
    plateau.first += first;
    plateau.last += first;
    return plateau;
}

}  // namespace ebbtide::decay
