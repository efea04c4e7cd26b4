#pragma once
// Bench checks, and the overrides beside them: which there are, and which stood about a moment.

#include <cstdint>
#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>
#include <vector>

#include "ledger/entries.hpp"
#include "ledger/find.hpp"

namespace ebbtide::ledger {

/// Entries of the checks that answer `check`, `bench`, `from` and `to` (the days on which they ended), the
/// newest first. Error: anything else is asked, which is of orders.
[[nodiscard]] Result<std::vector<Entry>> find_checks(Database& database, const Query& query);

/// ebbtide.ledger-checks/1, docs/formats/ledger.md.
[[nodiscard]] nlohmann::json json_of_checks(const std::vector<Entry>& checks);

/// What stands about a run.
struct ChecksAround {
    std::optional<Entry> before;     ///< the last check that had ended
    std::optional<Entry> override_;  ///< given since then
    std::optional<Entry> after;      ///< the first check that ended later
};

/// Of one revision of a bench; all absent where nothing is kept. What is kept now counts, whatever was known
/// when the run was judged.
[[nodiscard]] Result<ChecksAround> checks_around(Database& database, const std::string& bench,
                                                 const std::string& bench_revision, Instant at);

}  // namespace ebbtide::ledger
