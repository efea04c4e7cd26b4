#pragma once
// A peer in another language: a process that loads its tool once, then does the work once for each line it is
// sent and answers "SECONDS ANSWER" by its own clock, so that starting an interpreter is never counted.

#include <cstdio>
#include <memory>
#include <string>
#include <vector>

#include "row.hpp"

namespace ebbtide::speed {

class Peer {
  public:
    /// Starts the command (searched on PATH). Throws when it cannot be started.
    explicit Peer(const std::vector<std::string>& command);
    ~Peer();
    Peer(const Peer&) = delete;
    Peer& operator=(const Peer&) = delete;

    /// One turn. Throws when the peer died: a row without its peer is no row.
    [[nodiscard]] Lap turn();

  private:
    std::string words_;
    int process_ = -1;
    std::FILE* to_ = nullptr;
    std::FILE* from_ = nullptr;
};

/// A contender that starts its process at its first turn.
[[nodiscard]] Contender peer(const std::string& name, const std::vector<std::string>& command);

}  // namespace ebbtide::speed
