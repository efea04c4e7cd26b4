#pragma once
// Sheets followed step by step: any field dependence, any absorption, any map.

#include <array>
#include <span>
#include <vector>

#include "sheet/balance.hpp"
#include "sheet/clamp_voltage.hpp"

namespace ebbtide::sheet {

/// The courses of the sheets of a balance, each with the phases of its own clamps, whose charging begins and
/// ends with the others'. All take the same steps, the smallest that any of them needs. Times as `simulate`
/// takes them. Internal: steps that find no size small enough.
[[nodiscard]] Result<std::vector<Course>> follow(Balance& balance,
                                                 std::span<const std::array<Phase, 2>> phases,
                                                 std::span<const double> times_s, const Options& options);

}  // namespace ebbtide::sheet
