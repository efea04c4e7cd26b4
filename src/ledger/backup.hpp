#pragma once
// Copies of a whole ledger, made while others write to it, and put back where none is.

#include <string>

#include "ledger/check.hpp"
#include "ledger/database.hpp"

namespace ebbtide::ledger {

/// A copy of one consistent state under a new name, on the disk when this returns. Errors: the name is
/// taken; the disk refuses.
[[nodiscard]] Result<Done> back_up(Database& ledger, const std::string& path);

/// Puts a backup where no ledger is, after checking all of it. Errors: the place is taken; the backup is
/// damaged or is no ledger.
[[nodiscard]] Result<Checked> restore(const std::string& backup, const std::string& path);

}  // namespace ebbtide::ledger
