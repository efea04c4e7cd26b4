#include "ledger/entries.hpp"

#include <fmt/format.h>

#include <stdexcept>

#include "basis/sha256.hpp"
#include "ledger/audit.hpp"
#include "ledger/canonical.hpp"
#include "ledger/found_rows.hpp"

namespace ebbtide::ledger {
namespace {

constexpr const char* every_entry = "FROM entry e JOIN link l ON l.number = e.number ";
/// The newest revision, and not voided.
constexpr const char* stands =
    "e.voided = 0 AND e.revision = (SELECT max(revision) FROM entry WHERE kind = e.kind AND id = e.id) ";

Result<std::vector<Entry>> entries(Database& database, const std::string& where,
                                   const std::vector<Value>& values) {
    return read_entries(database, every_entry + where, values);
}

Error refused(const Draft& draft, const std::string& what, const std::string& remedy) {
    return {Fault::bad_input, what, fmt::format("{} {}", name_of(draft.kind), draft.id), remedy};
}

/// What makes a draft no entry; the parsed body when nothing does.
Result<nlohmann::json> accepted(const Draft& draft, const std::optional<Entry>& before) {
    const std::string whose = fmt::format("{} {}: ", name_of(draft.kind), draft.id.substr(0, 80));
    for (const auto& [text, name] :
         {std::pair{&draft.id, "id"}, std::pair{&draft.who, "who"}, std::pair{&draft.why, "why"}})
        if (auto fault = fault_of_text(*text, whose + name)) return *fault;
    if (draft.id.empty()) return refused(draft, "has no id", "Give it one");
    if (before && (draft.who.empty() || draft.why.empty()))
        return refused(draft,
                       before->voided
                           ? fmt::format("was withdrawn in revision {}, and is kept", before->revision)
                           : fmt::format("is there already, as revision {}", before->revision),
                       fmt::format("Say who {} and why: --who INITIALS --why TEXT",
                                   before->voided ? "puts it back" : "corrects it"));
    if (draft.voided && !before) return refused(draft, "is not there to be voided", "Check its name");
    if (draft.voided && before->voided)
        return refused(draft, "is voided already", "'ebbtide ledger revisions' says by whom and why");
    auto body = parse_canonical(draft.body);
    if (!body) {
        Error error = body.error();
        error.where = whose + "body" + error.where;
        return error;
    }
    if (draft.voided != body->is_null())
        return refused(draft, "has no body, or is voided with one", "A voided entry has the body null");
    return body;
}

}  // namespace

const char* name_of(Kind kind) {
    switch (kind) {
        case Kind::order:
            return "order";
        case Kind::method:
            return "method";
        case Kind::specification:
            return "specification";
        case Kind::bench:
            return "bench";
        case Kind::calibration:
            return "calibration";
        case Kind::bench_check:
            return "bench_check";
        case Kind::person:
            return "person";
        case Kind::run:
            return "run";
        case Kind::statement:
            return "statement";
        case Kind::report:
            return "report";
        case Kind::validation:
            return "validation";
        case Kind::transcript:
            return "transcript";
    }
    return "";
}

std::optional<Kind> kind_of(const std::string& name) {
    for (const Kind kind : every_kind)
        if (name == name_of(kind)) return kind;
    return {};
}

Result<Entry> entry_at(const Row& row) {
    const auto kind = kind_of(row.text(1));
    if (!kind)
        return Error{Fault::inconsistent, fmt::format("entry {} is of no kind that is known", row.integer(0)),
                     "ledger", "Run 'ebbtide ledger check'"};
    return Entry{row.integer(0), *kind,       row.text(2),         row.integer(3), Instant{row.integer(4)},
                 row.text(5),    row.text(6), row.integer(7) != 0, row.text(8),    row.text(9)};
}

std::string content_of(const Entry& entry) {
    const auto line = canonical_line(
        {name_of(entry.kind), entry.id, entry.revision, entry.who, entry.why, entry.voided, entry.sha256});
    // A row that was changed from outside may hold a text that no entry has.
    return line ? sha256_hex(*line) : std::string();
}

Result<std::string> link_of(Database& database, const Entry& entry) {
    auto sha256 = database.text("SELECT sha256 FROM link WHERE number = ?", {entry.number});
    if (!sha256) return sha256.error();
    if (!*sha256)
        return Error{Fault::inconsistent, fmt::format("entry {} has no link", entry.number), database.path(),
                     "Run 'ebbtide ledger check'"};
    return std::move(**sha256);
}

Result<std::optional<Entry>> newest(Database& database, Kind kind, const std::string& id) {
    auto found = entries(database, "WHERE e.kind = ? AND e.id = ? ORDER BY e.revision DESC LIMIT 1",
                         {name_of(kind), id});
    if (!found) return found.error();
    return found->empty() ? std::optional<Entry>() : std::optional(std::move(found->front()));
}

Result<std::vector<Entry>> revisions(Database& database, Kind kind, const std::string& id) {
    return entries(database, "WHERE e.kind = ? AND e.id = ? ORDER BY e.revision", {name_of(kind), id});
}

Result<std::vector<Entry>> standing(Database& database, Kind kind, const std::string& begin) {
    std::string after = begin;  // the first text that no longer begins so
    if (begin.empty()) throw std::logic_error("standing entries of every id");
    ++after.back();
    return entries(database,
                   fmt::format("WHERE e.kind = ? AND e.id >= ? AND e.id < ? AND {} ORDER BY e.id", stands),
                   {name_of(kind), begin, after});
}

Result<std::vector<Entry>> standing(Database& database, Kind kind) {
    return entries(database, fmt::format("WHERE e.kind = ? AND {} ORDER BY e.number", stands),
                   {name_of(kind)});
}

Result<std::vector<Entry>> read_entries(Database& database, const std::string& from,
                                        const std::vector<Value>& values) {
    std::vector<Entry> found;
    const auto read = database.each(fmt::format("SELECT {} {}", entry_columns, from), values,
                                    [&](const Row& row) -> Result<Done> {
                                        auto entry = entry_at(row);
                                        if (!entry) return entry.error();
                                        found.push_back(std::move(entry).value());
                                        return Done{};
                                    });
    if (!read) return read.error();
    return found;
}

Result<Entry> put_entry(Database& database, const Draft& draft, Instant at) {
    if (!database.writing()) throw std::logic_error("an entry outside of a Writing");
    const auto before = newest(database, draft.kind, draft.id);
    if (!before) return before.error();
    const auto body = accepted(draft, *before);
    if (!body) return body.error();
    Entry entry{0,          draft.kind,
                draft.id,   *before ? (*before)->revision + 1 : 1,
                at,         draft.who,
                draft.why,  draft.voided,
                draft.body, sha256_hex(draft.body)};
    const auto link = append_link(database, Act::entry, content_of(entry), at);
    if (!link) return link.error();
    entry.number = link->number;
    const auto written = database.run(
        "INSERT INTO entry (number, kind, id, revision, who, why, voided, body, sha256) "
        "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
        {entry.number, name_of(entry.kind), entry.id, entry.revision, entry.who, entry.why,
         static_cast<std::int64_t>(entry.voided), entry.body, entry.sha256});
    if (!written) return written.error();
    if (*before) {
        const auto removed = remove_found_rows(database, (*before)->number);
        if (!removed) return removed.error();
    }
    const auto found = found_rows(entry, *body);
    if (!found) return found.error();
    const auto added = add_found_rows(database, *found);
    if (!added) return added.error();
    return entry;
}

Result<Entry> put_unless_there(Database& database, const Draft& draft, Instant at) {
    auto there = newest(database, draft.kind, draft.id);
    if (!there) return there.error();
    if (*there && !(*there)->voided && (*there)->body == draft.body) return std::move(**there);
    return put_entry(database, draft, at);
}

}  // namespace ebbtide::ledger
