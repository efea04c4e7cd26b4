#include "work/ledger_people.hpp"

#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "ledger/canonical.hpp"
#include "work/ledger_entries.hpp"

namespace ebbtide::work {
namespace {

using ledger::Database;
using ledger::Kind;
using nlohmann::json;

/// Name of another person who stands under these initials; empty when nobody does.
Result<std::string> others_with(Database& ledger, const PersonAddition& person) {
    std::string name;
    const auto read = ledger.each(
        "SELECT e.id, e.body FROM entry e WHERE e.kind = 'person' AND e.voided = 0 AND e.id <> ? AND "
        "e.revision = (SELECT max(revision) FROM entry WHERE kind = 'person' AND id = e.id)",
        {person.name}, [&](const ledger::Row& row) -> Result<Done> {
            const json body = json::parse(row.text(1), nullptr, false);
            if (body.is_object() && body.value("initials", json()) == person.initials) name = row.text(0);
            return Done{};
        });
    if (!read) return read.error();
    return name;
}

}  // namespace

json person_body(const std::string& name, const std::string& initials) {
    return {{"name", name}, {"initials", initials.empty() ? json() : json(initials)}};
}

Result<ledger::Entry> add_person(Database& ledger, const PersonAddition& person, Instant now) {
    for (const auto& [text, what] :
         {std::pair{&person.name, "name"}, std::pair{&person.initials, "--initials"}})
        if (text->empty())
            return Error{Fault::bad_input, "is empty", what,
                         "Say who it is: ebbtide ledger person \"T. Okafor\" --initials TO"};
    const auto body = ledger::canonical_line(person_body(person.name, person.initials));
    if (!body) return body.error();
    auto writing = ledger::Writing::begin(ledger);
    if (!writing) return writing.error();
    const auto other = others_with(ledger, person);
    if (!other) return other.error();
    if (!other->empty())
        return Error{Fault::bad_input, fmt::format("'{}' is {} already", person.initials, *other),
                     "--initials", "Choose initials that are nobody else's"};
    const auto there = ledger::newest(ledger, Kind::person, person.name);
    if (!there) return there.error();
    ledger::Draft draft{Kind::person, person.name, *body, person.who, person.why, false};
    // An order named the person before anybody stated initials: to do so corrects nothing.
    if (*there && text_at(json::parse((*there)->body, nullptr, false), "/initials").empty() &&
        !(*there)->voided && draft.who.empty() && draft.why.empty())
        draft.who = person.initials, draft.why = "initials stated";
    auto entry = ledger::put_unless_there(ledger, draft, now);
    if (!entry) return entry;
    if (const auto done = writing->commit(); !done) return done.error();
    return entry;
}

}  // namespace ebbtide::work
