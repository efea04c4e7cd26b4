#pragma once
// Every decay time of a ledger as one table for spreadsheets: docs/formats/ledger.md.

#include <string>

#include "ledger/database.hpp"

namespace ebbtide::ledger {

/// Writes the view found_result as CSV (RFC 4180) to a new file, a row a level of a run. Error: the disk
/// refuses.
[[nodiscard]] Result<Done> write_result_table(Database& ledger, const std::string& path);

}  // namespace ebbtide::ledger
