#pragma once
// Sums over evenly spaced samples against a stretched exponential f = e^-z, z = (t/T)^b. Time t counts in
// intervals between samples: sample i lies at first + i, first >= 0.

#include <array>
#include <span>

#include "lanes/tier_sums.hpp"

namespace ebbtide::lanes {

/// What does not change while T and b are sought, laid out as MeanTiers.
struct StretchedPlaces {
    alignas(64) std::array<double, MeanTiers::rows * MeanTiers::most> log_t;  ///< in the middle of a block
    /// (block^2 - 1) / (24 t^2): by so much of t^2 f'' the mean of f over a block exceeds f in its middle.
    /// What is left out is of fourth order in block / t.
    alignas(64) std::array<double, MeanTiers::rows * MeanTiers::most> bend;
};
void take_places(const MeanTiers& tiers, double first, StretchedPlaces& out);

/// One column phi_0 and two slopes, d_0 by log T and d_1 by log b: phi_phi[0][0], phi_d[0][k], d_d[k][l], and
/// so on; the rest is not set.
[[nodiscard]] TierSums stretched_tier_sums(const MeanTiers& tiers, const StretchedPlaces& places,
                                           double log_time_constant, double exponent);

struct StretchedSum {
    double log_time_constant = 0, exponent = 1, amplitude = 0, constant = 0;
};
/// Of the explicit residuals r = y - amplitude f - constant.
struct StretchedResiduals {
    double squares = 0, plain = 0, with = 0;  ///< sum of r^2, r, r f
    double by_time = 0, by_exponent = 0;      ///< sum of r d f / d log T, of r d f / d log b
};
/// `log_t` from log_times for all of y, to spare them to the next call, or empty: then memory does not grow.
[[nodiscard]] StretchedResiduals stretched_residuals(std::span<const double> y, std::span<const double> log_t,
                                                     double first, const StretchedSum& sum);

/// ln(first + i); for t = 0 a number low enough that nothing is left of z.
void log_times(double first, std::span<double> out);

}  // namespace ebbtide::lanes
