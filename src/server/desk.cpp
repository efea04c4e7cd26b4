#include "server/desk.hpp"

#include <chrono>

namespace ebbtide::server {

Instant now_at(const Desk& desk) {
    if (desk.now) return desk.now();
    const auto since = std::chrono::system_clock::now().time_since_epoch();
    return {std::chrono::duration_cast<std::chrono::nanoseconds>(since).count()};
}

}  // namespace ebbtide::server
