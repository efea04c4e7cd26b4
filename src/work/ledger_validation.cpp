#include "work/ledger_validation.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "ledger/canonical.hpp"
#include "ledger/entries.hpp"
#include "ledger/segments.hpp"
#include "work/ledger_entries.hpp"
#include "work/validate.hpp"

namespace ebbtide::work {

using ledger::Database;
using ledger::Kind;
using nlohmann::json;

Result<ValidationKept> keep_validation(Database& ledger, const validation::Validation& validation,
                                       const std::string& pdf, const std::string& who, Instant now) {
    const std::string made = iso_text(validation.made);
    const std::string id = fmt::format("{}, {}", validation.computer.name, made);
    auto writing = ledger::Writing::begin(ledger);
    if (!writing) return writing.error();
    const auto sha256 = ledger::put_segment(ledger, pdf, now);
    if (!sha256) return sha256.error();
    json body = part_of(json_of(validation), {"made", "computer", "disagreeing", "all_agree"});
    body["checks"] = validation.checked.size();
    body["sha256"] = *sha256;
    body["bytes"] = pdf.size();
    const auto line = ledger::canonical_line(body);
    if (!line) return line.error();
    const auto entry = ledger::put_unless_there(ledger, {Kind::validation, id, *line, who, "", false}, now);
    if (!entry) return entry.error();
    const auto head = ledger::head(ledger);
    if (!head) return head.error();
    if (const auto done = writing->commit(); !done) return done.error();
    return ValidationKept{id, *head};
}

Result<json> validations(Database& ledger, const ledger::Query& query) {
    if (const auto fault = ledger::asked_in_vain(query, {}, "a validation", "--validations")) return *fault;
    auto entries = ledger::standing(ledger, Kind::validation);
    if (!entries) return entries.error();
    std::ranges::reverse(entries.value());  // the newest first
    std::vector<json> all;
    for (const ledger::Entry& entry : *entries) {
        json body = json::parse(entry.body, nullptr, false);
        const auto made = parse_instant(text_at(body, "/made"));
        if (!made) continue;  // 'ledger check' says that it is damaged
        if (query.from && date_of(*made) < *query.from) continue;
        if (query.to && *query.to < date_of(*made)) continue;
        body.update({{"validation", entry.id},
                     {"revision", entry.revision},
                     {"at", iso_text(entry.at)},
                     {"who", entry.who}});
        all.push_back(std::move(body));
    }
    return json{{"schema", "ebbtide.ledger-validations/1"}, {"validations", std::move(all)}};
}

Result<std::string> validation_report(Database& ledger, const std::string& id) {
    const auto entry = ledger::newest(ledger, Kind::validation, id);
    if (!entry) return entry.error();
    if (!*entry || (*entry)->voided)
        return Error{Fault::bad_input, fmt::format("has no validation '{}'", id), ledger.path(),
                     "'ebbtide ledger find --validations' lists them"};
    return ledger::segment(ledger, text_at(json::parse((*entry)->body, nullptr, false), "/sha256"));
}

}  // namespace ebbtide::work
