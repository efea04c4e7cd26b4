#pragma once
// Tolerance bounds that assume nothing of how values are spread: they rest on the order of the values alone
// (S. S. Wilks, Ann. Math. Stat. 12 (1941) 91). They need many specimens.

#include <optional>

#include "stats/tolerance.hpp"

namespace ebbtide::stats {

/// Least n whose largest value lies above a share of the lot with the stated confidence: 1 - share^n.
[[nodiscard]] int least_specimens_one_sided(const Claim& claim);
/// Least n whose smallest and largest value hold the share between them.
[[nodiscard]] int least_specimens_two_sided(const Claim& claim);

/// Confidence that the largest of n values lies above the share.
[[nodiscard]] double confidence_of_largest(int n, double share);

/// Which of n values, counted from the largest as 1, is still an upper bound of the claim; absent: n is too
/// small for any.
[[nodiscard]] std::optional<int> rank_of_upper_bound(int n, const Claim& claim);

}  // namespace ebbtide::stats
