#pragma once
// Which law? All candidates fitted, weighed by how much each explains for its number of parameters, and the
// best held against the noise: "none of these" is an answer.

#include <optional>
#include <string>
#include <vector>

#include "decay/law.hpp"
#include "fit/fit.hpp"

namespace ebbtide::decay {

struct LawModel {
    LawKind kind = LawKind::exponential;
    fit::Law law;
    fit::Fit fit = {};
    /// Akaike's criterion with the correction for small samples (Hurvich and Tsai, Biometrika 76 (1989) 297,
    /// from memory), on effective samples; nothing for a fit that failed or has parameters that are not
    /// determined.
    std::optional<double> aicc = {};
    /// Akaike weight (Burnham and Anderson, Model Selection and Multimodel Inference, 2002, 2.9, from
    /// memory) among the models that converged, those with undetermined parameters included; 0 for others.
    double weight = 0;
};

struct LawChoice {
    std::vector<LawModel> models;                               ///< in the order asked for
    std::optional<std::size_t> chosen;                          ///< the lowest criterion
    double effective_samples = 0;                               ///< the criterion's, the same for all
    fit::Scatter scatter = fit::Scatter::correlated_residuals;  ///< what the standard errors rest on
    /// Block means of the chosen law's residuals stay within what the noise of the samples explains (chance
    /// of less than one in a thousand otherwise). Nothing when nobody can say: no law chosen, fewer than 64
    /// samples, or uneven spacing, from which the noise is not estimated.
    std::optional<bool> adequate;
    std::string doubt = {};  ///< what speaks against the chosen law, in words; empty when it is adequate
};

/// Fits every kind with the same offset, under the same circumstances; `robust`: see fit/robust.hpp. Scatter:
/// as the standard errors shall be. Curve by any order of x.
[[nodiscard]] LawChoice choose_law(const fit::Curve& curve, const std::vector<LawKind>& kinds,
                                   const Offset& offset, fit::Scatter scatter,
                                   const Circumstances& circumstances = {}, bool robust = false);

}  // namespace ebbtide::decay
