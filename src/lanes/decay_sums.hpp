#pragma once
// Sums over evenly spaced samples against decaying exponentials, z^i = e^(rate i) of sample i: all that a
// least squares fit of them asks of the samples.

#include <array>
#include <cstddef>
#include <span>

namespace ebbtide::lanes {

/// Exponentials in one sum at most.
inline constexpr std::size_t most_parts = 3;

/// True when x[i] = x[0] + i * interval, interval = (last - first) / (size - 1) > 0: the squared distances
/// sum to no more than one of 1e-9 of the interval, or than rounding of x makes of all, up to 1e-7 each. Not
/// for fewer than two, nor where one is not finite.
[[nodiscard]] bool evenly_spaced(std::span<const double> x);

/// Means of neighbours over stretches that widen with the distance from the first sample: twelve means a
/// doubling, so that every decay, short or long, is seen by some tens of them. Within a tier they are evenly
/// spaced, and the mean of a sampled exponential over a block is again one, times a factor known in closed
/// form: nothing is approximated but that noise within a block is not told from its mean (1e-3 of the
/// information or less).
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

/// Weighted inner products of the columns [phi_k | 1 | d_k | y] over the means; phi_k is the mean of z_k^i
/// over a block, d_k its slope by -log(rate_k), which is that by the logarithm of the time constant.
struct TierSums {
    using Pairs = std::array<std::array<double, most_parts>, most_parts>;
    Pairs phi_phi, phi_d, d_d;  ///< [row][column]; the symmetric ones hold both halves
    std::array<double, most_parts> phi_one, d_one, phi_y, d_y;
};

/// rates < 0, one to three of them.
[[nodiscard]] TierSums tier_sums(const MeanTiers& tiers, std::span<const double> rates);

/// A first look at many rates at once, each half the one before: products[g * count + h] = sum of weight
/// phi_g phi_h for h >= g, with_one[g] and with_y[g] likewise. phi is here e^(rate i) in the middle of two
/// blocks, which is good to choose where to start. At most 32 rates.
void halving_products(const MeanTiers& tiers, double first_rate, std::size_t count,
                      std::span<double> products, std::span<double> with_one, std::span<double> with_y);

/// A sum of exponentials and a constant, by sample.
struct DecaySum {
    std::size_t parts = 0;
    std::array<double, most_parts> rate{}, amplitude{};
    double constant = 0;
};

/// Of the residuals r = y - sum: explicit, so they keep the digits by which y exceeds them.
struct ResidualSums {
    double squares = 0, plain = 0;
    std::array<double, most_parts> with{}, with_index{};  ///< sum of r z^i, of r i z^i
};
[[nodiscard]] ResidualSums residual_sums(std::span<const double> y, const DecaySum& sum);

/// The same but for `squares`, from moments of y and closed forms for the sum: in a third of the time, with
/// the digits lost by which y exceeds its residuals.
[[nodiscard]] ResidualSums residual_moments(std::span<const double> y, const DecaySum& sum);

}  // namespace ebbtide::lanes
