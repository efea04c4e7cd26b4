#pragma once
// Whether a ledger is whole: the file, the chain, every segment and body, the tables for finding.

#include <string>
#include <vector>

#include "ledger/audit.hpp"
#include "ledger/database.hpp"

namespace ebbtide::ledger {

/// What is damaged, where, and what to do.
struct Damage {
    std::string what;
    std::string advice;
};

struct Checked {
    Link head;  ///< as it stands; it means something only while nothing is damaged
    std::int64_t entries = 0, segments = 0;
    std::vector<Damage> damages;     ///< empty: all is well. At most a hundred of one sort are listed
    std::vector<std::string> notes;  ///< no damage: where the clock was set back

    [[nodiscard]] bool whole() const { return damages.empty(); }
};

/// Reads everything, from one state of the ledger. Error: it cannot be read at all.
[[nodiscard]] Result<Checked> check(Database& database);

/// Writes the tables for finding anew. Error: an entry that cannot be read.
[[nodiscard]] Result<Done> rebuild_index(Database& database);

}  // namespace ebbtide::ledger
