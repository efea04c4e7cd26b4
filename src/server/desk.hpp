#pragma once
// What the server was asked for.

#include <functional>
#include <string>

#include "basis/instant.hpp"

namespace ebbtide::server {

struct Desk {
    std::string folder;                 ///< holds the orders
    std::string ledger;                 ///< file; empty: none
    std::string simulated;              ///< simulation file that stands for the bench; empty: none
    std::string pace;                   ///< of the simulated bench
    std::string who;                    ///< initials of the person; may be empty
    std::function<Instant()> now = {};  ///< empty: the clock of this computer
    bool ahead_of_time = false;         ///< the simulated bench's clock may run ahead of it
};

[[nodiscard]] Instant now_at(const Desk& desk);

}  // namespace ebbtide::server
