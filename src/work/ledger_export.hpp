#pragma once
// A ledger as a directory that other programs read: ledger/archive.hpp, and every recording as HDF5.

#include "ledger/archive.hpp"

namespace ebbtide::work {

/// As ledger::export_to, with each kept recording that can be read as recordings/SHA256.h5 too, its channels
/// told apart as the order that brought it did. Memory: one recording.
[[nodiscard]] Result<ledger::Link> export_ledger(ledger::Database& ledger, const std::string& directory);

}  // namespace ebbtide::work
