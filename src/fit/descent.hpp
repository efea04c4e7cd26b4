#pragma once
// From one start down to the bottom of its valley: Levenberg-Marquardt on the projected residual.

#include <vector>

#include "fit/parameter.hpp"
#include "fit/projection.hpp"

namespace ebbtide::fit {

/// Where the search may go, in logarithms of scaled shape parameters.
struct Bounds {
    std::vector<double> low, high;
    std::vector<bool> held;  ///< parameters that stay where they start
    HeldAmplitudes held_amplitudes;
};

struct Descent {
    Outcome outcome = Outcome::not_run;
    std::vector<double> log_theta;
    Projection at;
    int evaluations = 0;
};

/// When less than this is left to gain, on the linear picture, a descent is near enough.
struct Enough {
    double fall = 0;   ///< of the sum of squares
    double share = 0;  ///< of the sum of squares, over itself
};

/// Steps until the residual's share along the Jacobian is 1e-10 of its length, or rounding hides all
/// progress; at most `most_evaluations` passes over the points. Ends sooner, as converged, when it is near
/// enough.
[[nodiscard]] Descent descend(const Problem& problem, std::vector<double> log_theta, const Bounds& bounds,
                              int most_evaluations, const Enough& enough = {});

/// The last digits: Gauss-Newton steps on explicit residuals for as long as they shrink. Changes nothing but
/// digits.
void polish(const Problem& problem, Descent& descent, const Bounds& bounds);

}  // namespace ebbtide::fit
