#include "work/ledger_pedigree_checks.hpp"

#include <algorithm>
#include <nlohmann/json.hpp>

#include "ledger/checks.hpp"
#include "ledger/found_rows.hpp"
#include "ledger/segments.hpp"
#include "work/kept_recording.hpp"
#include "work/ledger_entries.hpp"

namespace ebbtide::work {
namespace {

using ledger::Database;
using nlohmann::json;

Result<json> check_json(Database& ledger, const std::optional<ledger::Entry>& entry) {
    if (!entry) return json();
    const json record = json::parse(entry->body, nullptr, false);
    json check = {{"check", entry->id}, {"revision", entry->revision}, {"number", entry->number}};
    const auto link = ledger::link_of(ledger, *entry);
    if (!link) return link.error();
    check["link"] = *link;
    for (const char* key : {"kind", "by", "ended", "good_until", "outcome", "reason", "sha256"})
        check[key] = record.is_object() ? record.value(key, json()) : json();
    return check;
}

}  // namespace

Result<std::optional<Instant>> began(Database& ledger, const json& record, const json& recording) {
    const json runs = recording.value("runs_file", json());
    const std::string sha256 = runs.is_object() ? text_at(runs, "/sha256") : text_at(recording, "/sha256");
    const auto kept = ledger::has_segment(ledger, sha256);
    if (!kept) return kept.error();
    if (!*kept) return std::optional<Instant>();
    auto bytes = ledger::segment(ledger, sha256);
    if (!bytes) return bytes.error();
    const std::string file = text_at(recording, "/file");
    const auto source =
        recording::open_bytes(std::move(bytes).value(), file, kept_read_options(record, file));
    // What this version reads no more was read by the one that judged it.
    return source ? (*source)->description().origin : std::optional<Instant>();
}

Result<json> checks_about(Database& ledger, const json& record, const std::optional<Instant>& at) {
    const json& bench = record.at("bench");
    if (bench.is_null() || !at) return json();
    const auto around =
        ledger::checks_around(ledger, text_at(bench, "/id"), text_at(bench, "/revision"), *at);
    if (!around) return around.error();
    json out = json::object();
    for (const auto& [key, entry] :
         {std::pair{"before", &around->before}, std::pair{"override", &around->override_},
          std::pair{"after", &around->after}}) {
        auto check = check_json(ledger, *entry);
        if (!check) return check;
        out[key] = std::move(check).value();
    }
    return out;
}

Result<json> checks_of_statement(Database& ledger, const json& statement) {
    std::vector<json> checks;
    for (const json& file : statement.at("files")) {
        if (file.at("role") != "bench_check") continue;
        const std::string id = ledger::check_id(text_at(statement, "/bench/id"), text_at(file, "/name"));
        const auto entry = ledger::newest(ledger, ledger::Kind::bench_check, id);
        if (!entry) return entry.error();
        if (!*entry || (*entry)->voided) continue;
        auto check = check_json(ledger, *entry);
        if (!check) return check;
        checks.push_back(std::move(check).value());
    }
    std::ranges::stable_sort(checks, [](const json& a, const json& b) {
        const auto ended = [](const json& of) {
            const auto instant = parse_instant(text_at(of, "/ended"));
            return instant ? instant->ns : 0;
        };
        return ended(a) < ended(b);
    });
    return json(std::move(checks));
}

}  // namespace ebbtide::work
