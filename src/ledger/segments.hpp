#pragma once
// Bytes as they came (recordings, documents, reports), kept once under the SHA-256 of themselves.

#include <cstdint>
#include <string>
#include <string_view>

#include "ledger/database.hpp"

namespace ebbtide::ledger {

/// Bytes of one segment at most.
inline constexpr std::uint64_t largest_segment = std::uint64_t{512} << 20;

/// Keeps the bytes, within a Writing, and returns their SHA-256; does nothing when they are there already.
/// Error: more than largest_segment.
[[nodiscard]] Result<std::string> put_segment(Database& database, std::string_view bytes, Instant at);

[[nodiscard]] Result<bool> has_segment(Database& database, const std::string& sha256);

/// The bytes. Errors: none of that hash; what is kept under it hashes otherwise.
[[nodiscard]] Result<std::string> segment(Database& database, const std::string& sha256);

/// What a row of the table holds. Error: it does not unpack to `bytes` bytes of that hash.
[[nodiscard]] Result<std::string> unpacked(const std::string& packing, std::string packed, std::int64_t bytes,
                                           const std::string& sha256);

}  // namespace ebbtide::ledger
