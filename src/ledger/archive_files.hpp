#pragma once
// What the files of an export hold, line by line: written by export, compared by import.

#include <map>
#include <string>

#include "ledger/audit.hpp"
#include "ledger/entries.hpp"

namespace ebbtide::ledger {

inline constexpr const char* export_schema = "ebbtide.ledger/1";
inline constexpr const char* sums_name = "SHA256SUMS";

/// SHA-256 by file name, as in SHA256SUMS.
using Sums = std::map<std::string, std::string>;
[[nodiscard]] std::string text_of(const Sums& sums);
/// Of every file there is, but for the list of sums itself. Error: the directory cannot be read.
[[nodiscard]] Result<Sums> sums_of(const std::string& directory);

/// A line of audit.jsonl, without its end.
[[nodiscard]] std::string line_of(const Link& link);
/// A line of entries.jsonl. Error: a text that no ledger takes.
[[nodiscard]] Result<std::string> line_of(const Entry& entry);

}  // namespace ebbtide::ledger
