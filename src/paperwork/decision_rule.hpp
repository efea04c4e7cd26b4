#pragma once
// The table [decision_rule] of an order.

#include "paperwork/table_reader.hpp"
#include "plan/decision_rule.hpp"

namespace ebbtide::paperwork {

/// docs/formats/order.md explains the keys. The guard band belongs to the guarded rule alone, and is given
/// one way only.
[[nodiscard]] plan::DecisionRule decision_rule(TableReader table);

}  // namespace ebbtide::paperwork
