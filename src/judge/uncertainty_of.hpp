#pragma once
// Measurement uncertainty of a result: of one run, or of the mean of several.

#include <optional>
#include <span>
#include <vector>

#include "judge/judgement.hpp"

namespace ebbtide::judge {

/// Sums a budget up. U is k u at 95 %, k from Student's t with the effective degrees of freedom (JCGM
/// 100:2008, G.3.2), the normal 1.96 where they are infinite.
struct Sum {
    double u_s = 0;
    double expanded_u_s = 0;
    std::optional<double> degrees_of_freedom;  ///< 1 or more; absent from a million on
};
[[nodiscard]] Sum sum_of(std::span<const decay::Contribution> budget);

/// The budget of the mean of runs (indices into `runs`), all measured at the level. Runs of one specimen,
/// face, conditions and polarity share their series parts; runs under the same conditions share their day
/// parts, because the day of a run is not recorded: the conditions stand for it.
[[nodiscard]] std::vector<decay::Contribution> budget_of_mean(std::span<const std::size_t> group,
                                                              std::span<const JudgedRun> runs,
                                                              const plan::Level& level);

/// The setting whose replicates make a series: runs with the same text belong together.
[[nodiscard]] std::string series_of(const plan::RunKey& key);

}  // namespace ebbtide::judge
