#pragma once
// Does the law describe the curve? What it leaves is held against noise that knows nothing of the law.

#include <optional>
#include <string>

#include "fit/fit.hpp"

namespace ebbtide::decay {

struct Adequacy {
    bool adequate = false;
    double chance = 0;  ///< of residuals that look at least as bad when the law is right
    std::string doubt;  ///< what speaks against the law, in words; empty when it is adequate
};

/// Three looks at the residuals, taken together so that a right law is called inadequate about once in a
/// thousand:
/// - a wave: whether a free curve with up to 16 knots, more where the law falls fast, explains the points
///   better than the law and its parameters do (F-test for lack of fit);
/// - runs: whether they stay on one side too long (Wald and Wolfowitz, Ann. Math. Statist. 11 (1940) 147,
///   exact; from memory);
/// - memory: whether they are correlated (Ljung and Box, Biometrika 65 (1978) 297, from memory), of means
/// and,
///   where there are many samples, of samples, so that hum is found.
///
/// The noise may remember its neighbours, at any spacing: residuals are whitened by a white and a
/// band-limited part, estimated beside the free curve, so that a wave is not taken for noise; the verdict is
/// that under the most lenient noise that the points do not exclude. Noise that remembers longer than the
/// distance of knots cannot be told from a wave and counts as one. Residuals within the recorder's step speak
/// against nothing.
///
/// `curve` by ascending x; `fit` of `law` to it. Nothing where nobody can say: no converged fit, or fewer
/// than 10 samples, or fewer than five more than the free curve and the law have parameters.
[[nodiscard]] std::optional<Adequacy> judge_adequacy(const fit::Law& law, const fit::Fit& fit,
                                                     const fit::Curve& curve);

}  // namespace ebbtide::decay
