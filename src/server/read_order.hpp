#pragma once
// An order's documents and how its plan stands, read anew each time: that takes a millisecond, judging
// seconds.

#include <string>
#include <vector>

#include "record/order_record.hpp"
#include "server/order_folders.hpp"
#include "work/today.hpp"

namespace ebbtide::server {

/// Errors: those of read_documents().
[[nodiscard]] Result<work::OrderInWork> read_order(const std::string& key, const std::string& folder);
/// The same with its error in it.
[[nodiscard]] work::OrderInWork order_in_work(const std::string& key, const std::string& folder);
/// All of them, in their order.
[[nodiscard]] std::vector<work::OrderInWork> orders_in_work(const std::vector<OrderFolder>& folders);

}  // namespace ebbtide::server
