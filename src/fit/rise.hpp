#pragma once
// How far something can be moved, all else following, before a sum of squares has risen by as much as chance
// allows: what profile likelihoods have in common.

#include <functional>
#include <limits>
#include <optional>
#include <vector>

#include "fit/fit.hpp"

namespace ebbtide::fit {

/// Student's quantile with these degrees of freedom for a two-sided interval, or the normal's where the
/// scatter is known. confidence in (0, 1).
[[nodiscard]] double deviations_allowed(Scatter scatter, double degrees_of_freedom, double confidence);

/// The root of the rise over what is allowed: 0 at the best, 1 where chance ends, infinite where nothing
/// fits. `log_theta` is where the search for everything else starts, and becomes where it ended.
using RootOfRise = std::function<double(double at, std::vector<double>& log_theta)>;

struct Walk {
    double from = 0;  ///< where the root of the rise is zero, or at least below 1
    double step = 0;  ///< the first one; its sign is the direction, its size a guess of the distance
    double low = -std::numeric_limits<double>::infinity();
    double high = std::numeric_limits<double>::infinity();  ///< where the walk must stay
    std::vector<double> log_theta = {};                     ///< at `from`
    double closeness = 1e-4;                                ///< of the root to 1 at which the walk ends
};

/// Where the root is 1: outward in growing steps, then between two of them; the root is nearly straight.
/// Nothing when it stays below 1 up to the end of the range.
[[nodiscard]] std::optional<double> where_chance_ends(const RootOfRise& root, const Walk& walk);

}  // namespace ebbtide::fit
