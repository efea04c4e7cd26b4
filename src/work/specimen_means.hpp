#pragma once
// Times by specimen: replicates stand for the specimen that they are of.

#include <optional>
#include <vector>

#include "stats/comparison.hpp"
#include "work/lot_times.hpp"

namespace ebbtide::work {

/// The geometric mean of a specimen's times: a bound as soon as one of them is one. Nothing where both kinds
/// of bound meet. At least one time.
[[nodiscard]] std::optional<stats::Observation> mean_of(const std::vector<stats::Observation>& times);

/// Times by specimen, in the order in which specimens first appear; a time without one is a specimen of its
/// own.
[[nodiscard]] std::vector<std::vector<const LotTime*>> by_specimen(const std::vector<LotTime>& times);

/// Of one specimen each; groups with bounds by the lognormal fit. Absent: nothing to judge their scatter by,
/// or bounds that tell the mean to no six decades.
[[nodiscard]] std::optional<stats::GroupMean> group_mean(const std::vector<stats::Observation>& sample);

/// ln of times that are known exactly.
[[nodiscard]] std::vector<double> log_times(const std::vector<stats::Observation>& sample);

}  // namespace ebbtide::work
