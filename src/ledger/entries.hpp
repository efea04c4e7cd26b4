#pragma once
// What people and the program say, in revisions: written once, never changed. A correction is the next
// revision of the same kind and id, with who, when and why.

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "basis/instant.hpp"
#include "ledger/database.hpp"

namespace ebbtide::ledger {

/// Closed list; bodies: docs/formats/ledger.md.
enum class Kind {
    order,
    method,
    specification,
    bench,
    calibration,
    bench_check,
    person,
    run,
    statement,
    report,
    validation,
    transcript
};
inline constexpr std::array every_kind{
    Kind::order,  Kind::method, Kind::specification, Kind::bench,  Kind::calibration, Kind::bench_check,
    Kind::person, Kind::run,    Kind::statement,     Kind::report, Kind::validation,  Kind::transcript};
[[nodiscard]] const char* name_of(Kind kind);
[[nodiscard]] std::optional<Kind> kind_of(const std::string& name);

/// An entry on its way in.
struct Draft {
    Kind kind = Kind::order;
    std::string id;
    std::string body;  ///< canonical JSON, of canonical_line(); "null" when voided
    std::string who;   ///< initials or name; empty: not stated
    std::string why;
    bool voided = false;  ///< withdrawn from here on
};

struct Entry {
    std::int64_t number = 0;  ///< of its link
    Kind kind = Kind::order;
    std::string id;
    std::int64_t revision = 0;  ///< from 1
    Instant at;
    std::string who, why;
    bool voided = false;
    std::string body;
    std::string sha256;  ///< of the body
};

/// Writes the next revision, within a Writing, and keeps what find() looks in up to date. Errors: a later
/// revision without who or why; nothing to void; a text that no ledger takes, by name; a body that is not
/// canonical or lacks what its kind must have.
[[nodiscard]] Result<Entry> put_entry(Database& database, const Draft& draft, Instant at);

/// The same, unless the newest revision has this very body and is not voided: then that one.
[[nodiscard]] Result<Entry> put_unless_there(Database& database, const Draft& draft, Instant at);

/// The newest revision; nothing when there is none.
[[nodiscard]] Result<std::optional<Entry>> newest(Database& database, Kind kind, const std::string& id);
/// All of them, the first one first.
[[nodiscard]] Result<std::vector<Entry>> revisions(Database& database, Kind kind, const std::string& id);
/// The newest revisions that are not voided, of all ids of a kind that begin so (not empty), by id.
[[nodiscard]] Result<std::vector<Entry>> standing(Database& database, Kind kind, const std::string& begin);

/// SHA-256 of the link of an entry. Error: it has none.
[[nodiscard]] Result<std::string> link_of(Database& database, const Entry& entry);

/// What the link of an entry stands for: docs/formats/ledger.md.
[[nodiscard]] std::string content_of(const Entry& entry);

/// Of all ids of a kind, in the order in which they were kept.
[[nodiscard]] Result<std::vector<Entry>> standing(Database& database, Kind kind);

/// The entries that `SELECT entry_columns` gives with the rest of the statement, which names the tables
/// `entry e` and `link l`.
[[nodiscard]] Result<std::vector<Entry>> read_entries(Database& database, const std::string& from,
                                                      const std::vector<Value>& values);

/// `SELECT entry_columns FROM entry e JOIN link l ON l.number = e.number` gives rows for entry_at().
inline constexpr const char* entry_columns =
    "e.number, e.kind, e.id, e.revision, l.at_ns, e.who, e.why, e.voided, e.body, e.sha256";
/// Error: a kind that is none.
[[nodiscard]] Result<Entry> entry_at(const Row& row);

}  // namespace ebbtide::ledger
