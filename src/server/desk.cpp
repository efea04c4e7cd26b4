#include "server/desk.hpp"

#include "work/this_computer.hpp"

namespace ebbtide::server {

Instant now_at(const Desk& desk) {
    return desk.now ? desk.now() : work::time_now();
}

}  // namespace ebbtide::server
