#pragma once
// The share of a lot that takes longer than a time, from times of which some are lower bounds, without any
// assumption on how times are spread: the product-limit estimate (E. L. Kaplan and P. Meier, J. Am. Stat.
// Assoc. 53 (1958) 457).

#include <optional>
#include <span>
#include <vector>

#include "stats/censored.hpp"

namespace ebbtide::stats {

/// The share after one of the times at which a decay was seen to end.
struct SurvivalStep {
    double time = 0;
    double at_risk = 0;   ///< specimens whose time is not known to be shorter
    double ended = 0;     ///< of these, at this time
    double survival = 1;  ///< share that takes longer than `time`
    /// Greenwood's; absent where the share is 0, of which it says nothing.
    std::optional<double> standard_error = {};
};

/// Steps in ascending time, one for each distinct time known exactly. A lower bound equal to such a time
/// counts as longer. Absent: a value is an upper bound or lies between two, for which turnbull() is there.
[[nodiscard]] std::optional<std::vector<SurvivalStep>> kaplan_meier(std::span<const Observation> sample);

/// Bounds on the share by the normal distribution of log(-log share): they stay within 0 and 1. `quantile` is
/// that of the normal distribution (1.96 for 95 %). Absent where there is no standard error.
[[nodiscard]] ConfidenceInterval log_log_bounds(const SurvivalStep& step, double quantile);

}  // namespace ebbtide::stats
