#pragma once
// Times that follow something: a group, a date. Their logarithms share one spread about a mean that is a sum
// of covariates times slopes; bounds count as what they are.

#include <span>
#include <vector>

#include "stats/censored_fit.hpp"

namespace ebbtide::stats {

/// What was observed at one place of the covariates: of a group 1 where it is the group's own and 0
/// elsewhere, of a trend the time. A mean of its own is a covariate too, 1 everywhere.
struct Place {
    std::vector<double> covariates;
    std::vector<Observation> sample;
};

/// ln t = slopes . covariates + scale * z. Values mean something only where outcome is `fitted`.
struct RegressionFit {
    Family family = Family::lognormal;
    FitOutcome outcome = FitOutcome::not_tried;
    std::vector<double> slopes;
    std::vector<double> standard_errors;  ///< of the slopes, from the observed information
    double scale = 0;
    double log_likelihood = 0;  ///< of times in seconds

    [[nodiscard]] bool fitted() const { return outcome == FitOutcome::fitted; }
};

/// By maximum likelihood. All places have as many covariates, one at least; every sample passes check().
/// Where bounds leave a slope without an end, or covariates repeat each other, the outcome is
/// `only_bounds_apart`. Covariates of very unequal size cost digits: give years, not nanoseconds.
[[nodiscard]] RegressionFit fit_regression(std::span<const Place> places, Family family);

/// What freeing some slopes gains, as the ratio F of variances that would give it: exactly Fisher's where all
/// times are known and lognormal, near it with bounds among them.
struct LikelihoodRatio {
    double f_ratio = 0;
    double numerator_df = 0, denominator_df = 0;
    double p = 1;  ///< chance of so large a one if the slopes freed are all 0
};
/// `free` and `held` are fitted to the same `values` specimens, `free` with more slopes; values > free's.
[[nodiscard]] LikelihoodRatio likelihood_ratio(const RegressionFit& free, const RegressionFit& held,
                                               double values);

}  // namespace ebbtide::stats
