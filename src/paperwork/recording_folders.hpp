#pragma once
// The [[folder]] tables of an order. docs/formats/order.md explains every key.

#include <vector>

#include "paperwork/table_reader.hpp"
#include "plan/order.hpp"

namespace ebbtide::paperwork {

/// `order` is the order as far as it was read: its specimens and conditions are what the tables may name.
[[nodiscard]] std::vector<plan::RecordingFolder> recording_folders(TableReader& top,
                                                                   const plan::Order& order);

}  // namespace ebbtide::paperwork
