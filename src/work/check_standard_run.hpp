#pragma once
// A run of the RC check standard held against the decay time that it is known to have.

#include <optional>

#include "decay/figures.hpp"
#include "plan/bench_check.hpp"

namespace ebbtide::work {

/// `bench_check_failed` where the run's decay time to the standard's level is not within its tolerance, or
/// could not be taken: bench or standard are not what the bench file says. Expects that level among those
/// that were measured.
[[nodiscard]] std::optional<plan::Flag> standard_flag(const decay::Figures& figures,
                                                      const plan::CheckLimits& limits);

}  // namespace ebbtide::work
