#pragma once
// A whole ledger as a directory of open formats, and back: docs/formats/ledger.md.

#include <functional>
#include <string>

#include "ledger/audit.hpp"
#include "ledger/database.hpp"

namespace ebbtide::ledger {

/// Writes what else an export is to hold into its directory, from the same state of the ledger; import
/// derives nothing from it.
using Further = std::function<Result<Done>(Database& ledger, const std::string& directory)>;

/// Writes one state of the ledger to a new directory and returns its head. The same ledger gives the same
/// bytes. Memory: one segment. Errors: the name is taken; the disk refuses; a segment is damaged.
[[nodiscard]] Result<Link> export_to(Database& ledger, const std::string& directory,
                                     const Further& further = {});

/// The files of an export against its list. Error: one is missing, not listed, or not as it was written.
[[nodiscard]] Result<Done> compare_sums(const std::string& directory);

/// Writes everything of an export into a ledger that holds nothing yet, within one Writing, and returns the
/// head, which is that of the exported one. Memory: one segment or one entry. Errors: those of
/// compare_sums(); what is there does not lead to the head; the ledger holds something.
[[nodiscard]] Result<Link> import_from(const std::string& directory, Database& ledger);

}  // namespace ebbtide::ledger
