#pragma once
// Intervals by profile likelihood: a figure is moved from its estimate, everything else following, until the
// log-likelihood has fallen by more than chance allows. Unlike intervals from standard errors they do not
// depend on how the law is written, are not symmetric, and may have no end.

#include "stats/censored_fit.hpp"

namespace ebbtide::stats {

/// The fall of the log-likelihood that ends an interval of this confidence: half the quantile of chi-squared
/// with one degree of freedom (1.92 for 95 %), which holds for large samples.
[[nodiscard]] double likelihood_fall(double confidence);

/// The same for small ones: n/2 ln(1 + t^2/(n - 1)), t Student's quantile with n - 1 degrees of freedom, n
/// the number of specimens (at least 2 is reckoned with), whether known exactly or by bounds. Without bounds
/// the interval of a lognormal's mu is then Student's, which is exact; how well the others hold is studied in
/// tests/coverage/lot_study_test.cpp.
[[nodiscard]] double likelihood_fall(double confidence, double specimens);

// `fit` is fitted from `sample`; `fall` as above. Ends in the figure's own units.
[[nodiscard]] ConfidenceInterval interval_of_location(const LogSample& sample, const CensoredFit& fit,
                                                      double fall);
[[nodiscard]] ConfidenceInterval interval_of_scale(const LogSample& sample, const CensoredFit& fit,
                                                   double fall);
/// Of ln of the time that a share `probability` does not exceed.
[[nodiscard]] ConfidenceInterval interval_of_log_quantile(const LogSample& sample, const CensoredFit& fit,
                                                          double probability, double fall);
/// Of the share that takes longer than `time` > 0; 0 and 1 where it has no end.
[[nodiscard]] ConfidenceInterval interval_of_share_beyond(const LogSample& sample, const CensoredFit& fit,
                                                          double time, double fall);

}  // namespace ebbtide::stats
