#pragma once
// The schema, step by step. A file of every older schema is kept in tests/ledger/files and opened for ever.

#include <string>

#include "ledger/database.hpp"

namespace ebbtide::ledger {

/// `application_id` of a ledger, docs/formats/ledger.md.
inline constexpr std::int64_t application_id = 0x45424254;
/// The schema that this program writes.
inline constexpr std::int64_t newest_schema = 4;

/// A new ledger. Error: there is a file already.
[[nodiscard]] Result<Database> create_ledger(const std::string& path);

/// An existing ledger; for writing it is brought to the newest schema. Errors: not a ledger; of a newer
/// schema; what Database::open() says.
[[nodiscard]] Result<Database> open_ledger(const std::string& path, Database::Access access,
                                           Span wait = usual_wait);

/// The schema of a ledger, which is an older one where it was opened for reading only. Errors: not a ledger;
/// of a newer schema.
[[nodiscard]] Result<std::int64_t> schema_of(Database& database);

/// Brings an empty database to a schema: what that of a sound ledger looks like.
[[nodiscard]] Result<Done> migrate(Database& database, std::int64_t to);

}  // namespace ebbtide::ledger
