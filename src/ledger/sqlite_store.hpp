#pragma once
// A ledger in a SQLite file. The one place that speaks to SQLite, on the file layer of gathered_writes.hpp.

#include <memory>
#include <string>

#include "basis/instant.hpp"
#include "ledger/store.hpp"

namespace ebbtide::ledger {

/// As Database::open(), create() and in_memory().
[[nodiscard]] Result<std::unique_ptr<Store>> open_sqlite(const std::string& path, bool writes, Span wait);
[[nodiscard]] Result<std::unique_ptr<Store>> create_sqlite(const std::string& path);
[[nodiscard]] Result<std::unique_ptr<Store>> sqlite_in_memory();

}  // namespace ebbtide::ledger
