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
    /// Whether the chosen law describes the curve (adequacy.hpp). Nothing when nobody can say.
    std::optional<bool> adequate;
    std::string doubt = {};  ///< what speaks against the chosen law, in words; empty when it is adequate
    /// Spikes: positions, in the curve as given, of samples that no model was fitted to; ascending. What is
    /// done with the models afterwards is to be done without them (fit::without).
    std::vector<std::size_t> lost = {};
};

/// Fits every kind with the same offset, under the same circumstances. `robust`: spikes, found about the law
/// that fits best (fit/robust.hpp), are left out of all fits alike, so that their criteria can be compared.
/// Scatter: as the standard errors shall be; a sigma of each point weighs the fits, and the noise is then
/// that of y / sigma. Curve by any order of x.
[[nodiscard]] LawChoice choose_law(const fit::Curve& curve, const std::vector<LawKind>& kinds,
                                   const Offset& offset, fit::Scatter scatter,
                                   const Circumstances& circumstances = {}, bool robust = false);

/// The model that says most: the chosen one, else that of the highest weight; nothing when none converged.
[[nodiscard]] const LawModel* leading(const LawChoice& choice);

}  // namespace ebbtide::decay
