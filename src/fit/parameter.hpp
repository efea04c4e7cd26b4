#pragma once
// What a fit says of itself and of its parameters: values, for those who need no engine.

#include <optional>
#include <string>

namespace ebbtide::fit {

/// How a descent, and a fit, ended. Born failed: success must be earned.
enum class Outcome {
    not_run,
    converged,        ///< the residual is at right angles to every direction in which the law can move
    stalled,          ///< no further progress, but the bottom was not proven
    singular,         ///< no start at which the columns of the law are independent
    too_few_samples,  ///< no more points than parameters
    bad_samples,  ///< not finite, sigma not positive, lengths that differ, or x where the law is not defined
};

/// What the standard errors rest on. There is no default: the caller says which.
enum class Scatter {
    stated,          ///< Curve::sigma is absolute; residuals do not rescale it
    from_residuals,  ///< independent errors in proportion to sigma (or all alike), scaled by RSS / (n - p)
    correlated_residuals,  ///< as from_residuals, but neighbours remember each other: noise estimated from
                           ///< residuals
    stated_noise,          ///< absolute, with the autocovariance given
};

/// What became of a parameter.
enum class Standing {
    free,            ///< found, with a standard error
    held,            ///< the caller fixed it
    at_bound,        ///< the search ran into the end of its range
    did_not_move,    ///< it ended exactly where it began: the points do not depend on it there
    not_determined,  ///< the points would allow a value e times larger or smaller as well
};

struct Parameter {
    std::string name;
    double value = 0;                      ///< where the search ended, units of the caller
    std::optional<double> standard_error;  ///< only for Standing::free
    Standing standing = Standing::not_determined;
};

}  // namespace ebbtide::fit
