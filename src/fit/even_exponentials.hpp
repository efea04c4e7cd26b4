#pragma once
// Sums of exponentials on evenly spaced samples that all weigh alike: the quick way.
//
// Most of the search needs some hundred means only (lanes::MeanTiers), whose sums with sampled exponentials
// need no exponential a sample. The last steps, of even_descent.hpp, read all samples.

#include <array>
#include <optional>

#include "fit/curve.hpp"

namespace ebbtide::fit {

struct EvenExponentials {
    std::array<double, 3> time_constant{};  ///< unit of x, ascending
    std::array<double, 3> amplitude{};      ///< at x = 0
    double offset = 0;                      ///< 0 without one
    double rss = 0;                         ///< to 1e-9 of it
};

/// y = sum of `parts` amplitude_k exp(-x / time_constant_k) + offset (when `with_offset`) + constant. Nothing
/// where the points are not even, weighted, not finite, fewer than 100, or where the answer does not vouch
/// for itself: bottom proven, time constants well apart and well inside the record, no other valley in sight.
/// Then the general way must decide. parts 1 to 3.
[[nodiscard]] std::optional<EvenExponentials> fit_even_exponentials(const Curve& curve, std::size_t parts,
                                                                    bool with_offset, double constant);

}  // namespace ebbtide::fit
