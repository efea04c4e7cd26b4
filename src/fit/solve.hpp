#pragma once
// The best parameters and what they leave over, without errors: what fit() finds before it asks how sure it
// is.

#include <vector>

#include "fit/curve.hpp"
#include "fit/descent.hpp"
#include "fit/law.hpp"

namespace ebbtide::fit {

/// Which way the search went: both give the same answer.
enum class Way {
    any,      ///< the fast one where it applies and trusts itself, else the general one
    general,  ///< any law, any spacing, any weights
    fast,     ///< or nothing: Outcome::not_run where it does not apply or does not trust itself
};

struct Solution {
    Outcome outcome = Outcome::not_run;
    std::vector<double> amplitudes;  ///< in the law's order, units of y
    std::vector<double> shape;       ///< in the law's order, units of x; alike ones ascending
    double rss = 0;     ///< sum of ((y - law) / sigma)^2, or of (y - law)^2 without sigma; to 1e-9 of it
    bool fast = false;  ///< found the fast way

    [[nodiscard]] bool ok() const { return outcome == Outcome::converged; }
};

/// The best of all valleys found, as fit() finds it. Points in any order. Never throws for what the points
/// are. Repeats bit for bit.
[[nodiscard]] Solution solve(const Law& law, const Curve& curve, Way way = Way::any);

}  // namespace ebbtide::fit
