#pragma once
// Intervals where the sum of squares is not a parabola: profile likelihood.

#include <optional>

#include "fit/fit.hpp"

namespace ebbtide::fit {

/// How far a parameter can be moved, all others following, before the sum of squares has risen by as much as
/// chance allows at this confidence: by F(1, degrees of freedom) for estimated scatter, by the normal's
/// square for stated. Where the fit's errors were widened for correlated noise the rise is widened alike.
struct ProfileInterval {
    std::optional<double> low,
        high;  ///< nothing: the points set no limit on that side within the search's range
};

/// `fit` is what fit() gave for these points, converged. `parameter` counts as in Fit::parameters and must
/// have standing free or not_determined; nothing otherwise. Costs some 20 to 40 fits that start where they
/// are. Bates and Watts, Nonlinear Regression Analysis and Its Applications (1988), chapter 6, from memory.
[[nodiscard]] std::optional<ProfileInterval> profile_interval(const Law& law, const Curve& curve,
                                                              const Spread& spread, const Fit& fit,
                                                              std::size_t parameter, double confidence);

}  // namespace ebbtide::fit
