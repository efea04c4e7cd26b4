#pragma once
// Spikes: single samples far off their neighbours lose their weight, the others are fitted as ever.

#include <cstddef>
#include <span>
#include <vector>

#include "fit/fit.hpp"

namespace ebbtide::fit {

struct RobustFit {
    Fit fit;  ///< least squares of the samples that kept their weight
    std::vector<std::size_t> lost =
        {};  ///< positions, in the curve as given, of those that did not; ascending
};

/// A sample loses its weight when it lies further than chance explains both from the law and from the law
/// shifted to its neighbours, eight on either side, and by more than the recorder's step. So a wrong law
/// costs no samples where its residuals leave a wave, and noise with a memory none either. Chance: one trace
/// in a hundred loses a sample without cause. Scales are medians of absolute residuals over 0.6745, and the
/// neighbours are taken by medians: few bad samples cannot spoil them (Hampel, J. Amer. Statist. Assoc. 69
/// (1974) 383, from memory). Rejection and fit are repeated until they agree.
///
/// Weights are 1 or 0, where an M-estimate's would lie between (Huber; Tukey's biweight): without spikes the
/// answer then is that of least squares to the last bit, standard errors need no correction, and every law
/// can be held against the same samples. What is paid: a spike under some four standard deviations stays.
///
/// More than a fifth of the samples far off are no single ones: then all are fitted and `lost` is empty, as
/// with fewer than eight samples.
/// Other arguments, errors and repeatability as fit().
[[nodiscard]] RobustFit fit_robust(const Law& law, const Curve& curve, const Spread& spread,
                                   const std::vector<std::optional<double>>& held = {});

/// The curve without the samples at these positions (ascending).
[[nodiscard]] CurveStore without(const Curve& curve, std::span<const std::size_t> lost);

}  // namespace ebbtide::fit
