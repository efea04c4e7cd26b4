#pragma once
// The chain of hashes that every write is a link of. What is hashed: docs/formats/ledger.md.

#include <cstdint>
#include <string>

#include "basis/instant.hpp"
#include "ledger/database.hpp"

namespace ebbtide::ledger {

/// What a link stands for.
enum class Act { entry, segment };
[[nodiscard]] const char* name_of(Act act);

struct Link {
    std::int64_t number = 0;  ///< 1, 2, 3...; 0 before the first
    Instant at;               ///< by the clock of the computer, which may be set back
    Act act = Act::entry;
    std::string content;  ///< hash of what was written
    std::string sha256;   ///< of this link: the head, when it is the last one
};

/// Before the first link.
[[nodiscard]] Link no_link();

/// The hash of a link that follows one of the hash `previous`.
[[nodiscard]] std::string hash_of(const Link& link, const std::string& previous);

/// The last link; no_link() when there is none.
[[nodiscard]] Result<Link> head(Database& database);

/// Appends a link, within a Writing, and returns it.
[[nodiscard]] Result<Link> append_link(Database& database, Act act, const std::string& content, Instant at);

}  // namespace ebbtide::ledger
