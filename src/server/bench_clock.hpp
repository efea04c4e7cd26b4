#pragma once
// The clock by which checks expire and specimens are conditioned.

#include "server/desk.hpp"

namespace ebbtide::server {

/// The time of the orders that are served: this computer's. Where a simulated bench runs ahead of it, not
/// before the last that is written of any of their benches: what was proven at noon by the bench's clock
/// holds from noon on, for every page.
[[nodiscard]] Instant bench_clock(const Desk& desk);

}  // namespace ebbtide::server
