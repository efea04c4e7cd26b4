#pragma once
// What a least squares fit of decaying exponentials asks of means of evenly spaced samples.

#include <array>
#include <cstddef>
#include <span>

#include "lanes/decay_sums.hpp"
#include "lanes/mean_tiers.hpp"

namespace ebbtide::lanes {

/// Weighted inner products of the columns [phi_k | 1 | d_k | y] over the means; phi_k is the mean of
/// e^(rate_k i) over a block, d_k its slope by -log(rate_k), which is that by the logarithm of the time
/// constant.
struct TierSums {
    using Pairs = std::array<std::array<double, most_parts>, most_parts>;
    Pairs phi_phi, phi_d, d_d;  ///< [row][column]; the symmetric ones hold both halves
    std::array<double, most_parts> phi_one, d_one, phi_y, d_y;
};

/// rates < 0, one to three of them.
[[nodiscard]] TierSums tier_sums(const MeanTiers& tiers, std::span<const double> rates);

/// A first look at many rates at once, each half the one before: products[g * count + h] = sum of weight
/// phi_g phi_h for h >= g, with_one[g] and with_y[g] likewise. phi is here e^(rate i) in the middle of three
/// blocks, which is good to choose where to start. At most 32 rates.
void halving_products(const MeanTiers& tiers, double first_rate, std::size_t count,
                      std::span<double> products, std::span<double> with_one, std::span<double> with_y);

}  // namespace ebbtide::lanes
