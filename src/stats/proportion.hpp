#pragma once
// The share of a lot that is over a limit, from specimens counted or measured.

#include "stats/censored.hpp"

namespace ebbtide::stats {

/// Interval of a share of which `found` of `n` specimens were seen, never covering less often than stated (C.
/// J. Clopper and E. S. Pearson, Biometrika 26 (1934) 404). 0 <= found <= n, n >= 1. Both ends present.
[[nodiscard]] ConfidenceInterval clopper_pearson(int found, int n, double confidence);

/// Its one-sided upper bound alone.
[[nodiscard]] double clopper_pearson_upper(int found, int n, double confidence);

/// Share of a normal population above `limit`, from mean and standard deviation s > 0 of n >= 2 values: the
/// estimate that puts both into the law, and an exact interval by the noncentral t distribution.
struct ShareBeyond {
    double estimate = 0;
    ConfidenceInterval interval = {};
};
[[nodiscard]] ShareBeyond normal_share_beyond(double mean, double s, int n, double limit, double confidence);

}  // namespace ebbtide::stats
