#pragma once
// Lognormal and Weibull laws fitted to a lot by maximum likelihood, some of whose times are bounds.

#include <span>
#include <string_view>

#include "stats/censored.hpp"
#include "stats/log_sample.hpp"

namespace ebbtide::stats {

enum class FitOutcome {
    not_tried,
    fitted,
    one_time_explains_all,  ///< all equal, or bounds that one single time would meet: no spread to be found
    only_bounds_apart,      ///< bounds alone, upper ones below lower ones: any larger spread fits them better
    stalled,                ///< the search ended short of the largest likelihood: a fault of ours
};
[[nodiscard]] std::string_view name_of(FitOutcome outcome);
/// Why there is no fit, for people; empty when fitted.
[[nodiscard]] std::string_view in_words(FitOutcome outcome);

/// ln t = location + scale * z with z standard normal (lognormal: location mu, scale sigma of ln t), or of
/// the smallest extreme value (weibull: location ln(scale in seconds), scale 1/shape). Values mean something
/// only where outcome is `fitted`.
struct CensoredFit {
    Family family = Family::lognormal;
    FitOutcome outcome = FitOutcome::not_tried;
    double location = 0;
    double scale = 0;
    /// Inverse of the observed information in (location, ln scale).
    double variance_location = 0, covariance = 0, variance_log_scale = 0;
    double log_likelihood = 0;  ///< of times in seconds

    [[nodiscard]] bool fitted() const { return outcome == FitOutcome::fitted; }
    /// ln of the time that a share `probability` of the lot does not exceed, and its standard error.
    [[nodiscard]] double log_quantile(double probability) const;
    [[nodiscard]] double error_of_log_quantile(double probability) const;
    /// Share of the lot that takes longer than `time` > 0.
    [[nodiscard]] double share_beyond(double time) const;
};

/// Outcomes other than `fitted` are the sample's, not errors: a largest likelihood need not exist. It does
/// exactly where no single time agrees with all observations and at least one is located (known exactly, or
/// between two bounds); bounds alone may or may not have one.
[[nodiscard]] CensoredFit fit_censored(const LogSample& sample);
/// `sample` passes check().
[[nodiscard]] CensoredFit fit_censored(std::span<const Observation> sample, Family family);

}  // namespace ebbtide::stats
