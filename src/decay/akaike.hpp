#pragma once
// How much each of several laws explains for its number of parameters.

#include <cstddef>
#include <optional>
#include <span>
#include <vector>

namespace ebbtide::decay {

/// What a fit left over.
struct Leftover {
    double rss = 0;              ///< sum of squares of the residuals, >= 0
    std::size_t points = 0;      ///< over which it was summed
    std::size_t parameters = 0;  ///< fitted ones, without the scatter
};

/// Akaike's criterion with the correction for small samples, n log(rss / points) + 2 k + 2 k (k + 1) /
/// (n - k - 1), for n effective samples and k parameters with the scatter among them (Hurvich and Tsai,
/// Biometrika 76 (1989) 297, from memory). Nothing when n - k - 1 is not positive. rss above zero: the caller
/// knows where rounding begins.
[[nodiscard]] std::optional<double> akaike_criterion(const Leftover& left, double effective_samples);

/// exp(-difference / 2) to the lowest criterion, over their sum (Burnham and Anderson, Model Selection and
/// Multimodel Inference, 2002, 2.9, from memory). 0 for a law without a criterion; all 0 when none has one.
[[nodiscard]] std::vector<double> akaike_weights(std::span<const std::optional<double>> criteria);

}  // namespace ebbtide::decay
