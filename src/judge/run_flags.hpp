#pragma once
// Flags that need the order and the method: charging, conditions, calibrations. Those of the figures come
// from decay/.

#include <optional>
#include <vector>

#include "judge/judgement.hpp"
#include "plan/bench.hpp"
#include "plan/method.hpp"
#include "plan/order.hpp"

namespace ebbtide::judge {

/// What the method asks of a run and the run does not show. `figures` of the run planned under `key`.
[[nodiscard]] std::vector<plan::Flag> method_flags(const decay::Figures& figures, const plan::RunKey& key,
                                                   const plan::Order& order, const plan::Method& method,
                                                   const std::optional<plan::Bench>& bench);

/// Sets each flag's consequence as the method says; the usual one where it says nothing.
void apply_consequences(std::vector<plan::Flag>& flags, const plan::Method& method);

/// Applies the consequences to a run: whether it counts, and whether it fails its specimen. Settling twice
/// changes nothing.
void settle(JudgedRun& run, const plan::Method& method);

}  // namespace ebbtide::judge
