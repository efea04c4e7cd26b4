#pragma once
// The same share where values may be lower bounds, upper bounds or lie between two: the distribution of
// largest likelihood (B. W. Turnbull, J. R. Stat. Soc. B 38 (1976) 290).

#include <optional>
#include <span>
#include <vector>

#include "stats/censored.hpp"

namespace ebbtide::stats {

/// Share of the lot that ends after `from` and not after `to`; where within is not known. from == to: at that
/// very time; `to` is absent beyond the last bound.
struct Portion {
    double from = 0;
    std::optional<double> to = {};
    double share = 0;
    double survival = 1;  ///< share that takes longer than all of it
};

struct TurnbullEstimate {
    std::vector<Portion> portions;  ///< ascending; all together 1
    double log_likelihood = 0;      ///< of the observations as intervals
    /// No distribution has a log-likelihood larger by more than this: count times the largest excess of a
    /// portion's expected count over its own (the gradient conditions of a largest value).
    double short_of_largest = 0;
    bool converged = false;  ///< that lies under 1e-8
    int rounds = 0;
};

/// `sample` holds at least one observation, all of which pass check().
[[nodiscard]] TurnbullEstimate turnbull(std::span<const Observation> sample);

/// Bounds on the share that takes longer than `time`, never covering less often than stated: those of Clopper
/// and Pearson, an observation that may be on either side counted against each bound. An estimate from
/// intervals has no standard error that would hold for few specimens, and redrawing the sample does not give
/// one either (its error shrinks more slowly than that of a mean): so its bounds rest on counting alone.
[[nodiscard]] ConfidenceInterval counted_bounds(std::span<const Observation> sample, double time,
                                                double confidence);

}  // namespace ebbtide::stats
