#pragma once
// Evenly spaced samples in some hundred numbers, whatever their count: means over stretches that widen with
// the distance from the first sample.

#include <array>
#include <cstddef>
#include <span>

namespace ebbtide::lanes {

/// Means of neighbours, twelve to each doubling of the distance from the first sample, so that every decay,
/// short or long, is seen by some tens of them. Within a tier they are evenly spaced, and the mean of a
/// sampled exponential over a block is again one, times a factor known in closed form: nothing is
/// approximated but that noise within a block is not told from its mean (1e-3 of the information or less).
struct MeanTiers {
    static constexpr std::size_t rows = 12;
    static constexpr std::size_t most = 32;
    /// Row r of tier s lies at r * padded + s, so that a vector holds tiers side by side. Every tier has all
    /// rows; tiers that only fill up a vector weigh nothing.
    std::size_t tiers = 0, padded = 0;
    std::size_t count = 0;                              ///< of means
    alignas(64) std::array<double, most> start, block;  ///< first sample of a tier, samples a mean
    alignas(64) std::array<double, most> weight;        ///< of a mean: samples behind it
    alignas(64) std::array<double, rows * most> mean;
    double samples = 0, sum = 0, squares = 0;  ///< of the weight, weight * mean, weight * mean^2
};

/// `less` is taken off every sample. 48 samples at least, 2^32 at most; up to 11 at the end are left out.
void take_means(std::span<const double> y, double less, MeanTiers& out);

}  // namespace ebbtide::lanes
