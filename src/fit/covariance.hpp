#pragma once
// Standard errors of all parameters together, from the triangle of the full Jacobian.

#include "fit/fit.hpp"
#include "fit/projection.hpp"

namespace ebbtide::fit {

/// Fills standings, standard errors, covariance, degrees of freedom and what the noise is, from a finished
/// descent. `start` is where the descent began.
void add_errors(Fit& fit, const Problem& problem, const Descent& descent, const std::vector<double>& start,
                const Bounds& bounds, const Spread& spread);

}  // namespace ebbtide::fit
