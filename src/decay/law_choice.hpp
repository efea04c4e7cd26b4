#pragma once
// Which law? All candidates fitted, weighed by how much each explains for its number of parameters, and the
// best held against the noise: "none of these" is an answer.

#include <optional>
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
};

struct LawChoice {
    std::vector<LawModel> models;       ///< in the order asked for
    std::optional<std::size_t> chosen;  ///< the lowest criterion
    double effective_samples = 0;       ///< the criterion's, the same for all
    /// Block means of the chosen law's residuals stay within what the noise of the samples explains (chance
    /// of less than one in a thousand otherwise). Nothing when nobody can say: no law chosen, fewer than 64
    /// samples, or uneven spacing, from which the noise is not estimated.
    std::optional<bool> adequate;
};

/// Fits every kind with the same offset. Scatter: as the standard errors shall be. Curve by any order of x.
[[nodiscard]] LawChoice choose_law(const fit::Curve& curve, const std::vector<LawKind>& kinds,
                                   const Offset& offset, fit::Scatter scatter);

}  // namespace ebbtide::decay
