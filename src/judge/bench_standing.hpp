#pragma once
// What the bench checks before and after a run say of it.

#include <span>
#include <vector>

#include "plan/bench_check.hpp"
#include "plan/flag.hpp"

namespace ebbtide::judge {

/// Whether work may start at `now`: the last opening check, as long as it holds. Empty: it may; else why
/// not, in words. A check that lies ahead proves nothing, and is named.
[[nodiscard]] std::string reason_not_to_start(std::span<const plan::BenchCheck> checks,
                                              const plan::CheckLimits& limits, Instant now);

/// Flags of a run recorded at `at`: no opening check before it, one that had run out or had failed
/// (`bench_check_stale`, `bench_check_failed`, with the override if there is one), and a closing check after
/// it that failed (`bench_check_held`): what lies between a good opening and a bad closing is held until
/// somebody has found what went wrong. `checks` are oldest first.
[[nodiscard]] std::vector<plan::Flag> standing_flags(std::span<const plan::BenchCheck> checks,
                                                     const plan::CheckLimits& limits, Instant at);

}  // namespace ebbtide::judge
