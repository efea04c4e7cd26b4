#pragma once
// Bench checks into the ledger: with the order that rests on them, or by themselves.

#include <cstdint>
#include <map>
#include <nlohmann/json_fwd.hpp>
#include <string>

#include "ledger/audit.hpp"
#include "ledger/entries.hpp"

namespace ebbtide::work {

/// A record of a bench check or of an override (ebbtide.bench_check/1) as an entry. `recordings` are hashes
/// of the recordings of its steps that are segments, by name; `name` says in messages where it came from.
/// Error: it is no such record.
[[nodiscard]] Result<ledger::Draft> check_draft(const std::string& text, const std::string& name,
                                                const std::map<std::string, std::string>& recordings = {});

/// Writes it, within a Writing, unless the same record is there already, with its recordings or not. Error:
/// another record of that id stands, and who or why is missing.
[[nodiscard]] Result<ledger::Entry> put_check(ledger::Database& ledger, const ledger::Draft& draft,
                                              Instant now);

struct CheckAddition {
    std::string file;  ///< checks/opening-INSTANT.json; the recordings of its steps lie beside it
    std::string who, why;
};
struct CheckAdded {
    std::string check;  ///< its id
    std::string kind, outcome;
    std::int64_t entries = 0, segments = 0;  ///< written now
    ledger::Link head;
};
/// Keeps a record, byte for byte, with those recordings of its steps that are there. Errors: those of
/// check_draft() and put_check(); what Writing says.
[[nodiscard]] Result<CheckAdded> add_check(ledger::Database& ledger, const CheckAddition& addition,
                                           Instant now);

/// Whether the file is the record of a bench check, by what it says of itself.
[[nodiscard]] bool is_check_record(const std::string& file);

}  // namespace ebbtide::work
