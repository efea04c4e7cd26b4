#pragma once
// What the method asks to be tested and the order does not plan.

#include <span>
#include <string>
#include <vector>

#include "judge/judgement.hpp"

namespace ebbtide::judge {

/// In words, one line a gap: too few specimens of a direction and state or replicates of a setting, a
/// polarity, face or direction that is not planned. Runs that the plan does not name are left out. With a gap
/// an order cannot pass.
[[nodiscard]] std::vector<std::string> plan_gaps(std::span<const JudgedRun> runs, const plan::Order& order,
                                                 const plan::Method& method);

}  // namespace ebbtide::judge
