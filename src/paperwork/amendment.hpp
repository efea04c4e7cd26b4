#pragma once
// The table [amendment] of an order: which issued report a later revision replaces, and what changed.

#include <optional>

#include "paperwork/table_reader.hpp"
#include "plan/order.hpp"

namespace ebbtide::paperwork {

/// Reads [amendment] of the order whose top this is; its revision and dates are read already. A revision
/// after the first must have one, the first must not.
[[nodiscard]] std::optional<plan::Amendment> amendment(TableReader& top, const plan::Order& order);

}  // namespace ebbtide::paperwork
