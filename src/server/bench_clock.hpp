#pragma once
// The clock by which checks expire and specimens are conditioned.

#include <vector>

#include "server/desk.hpp"
#include "server/order_folders.hpp"
#include "work/today.hpp"

namespace ebbtide::server {

/// The time of the orders that are served: this computer's. Where a simulated bench runs ahead of it, not
/// before the last that is written of any of their benches: what was proven at noon by the bench's clock
/// holds from noon on, for every page. `orders`: as orders_in_work() reads those of `folders`.
[[nodiscard]] Instant bench_clock(const Desk& desk, const std::vector<OrderFolder>& folders,
                                  const std::vector<work::OrderInWork>& orders);
/// The same, where nothing was read yet.
[[nodiscard]] Instant bench_clock(const Desk& desk);

}  // namespace ebbtide::server
