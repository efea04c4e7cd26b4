#include "work/ledger_checks.hpp"

#include <fmt/format.h>

#include <filesystem>
#include <nlohmann/json.hpp>

#include "basis/sha256.hpp"
#include "ledger/canonical.hpp"
#include "ledger/durable_file.hpp"
#include "ledger/found_rows.hpp"
#include "ledger/segments.hpp"
#include "work/ledger_entries.hpp"

namespace ebbtide::work {
namespace {

using ledger::Database;
using ledger::Draft;
using ledger::Kind;
using nlohmann::json;

constexpr std::uint64_t largest_check_record = std::uint64_t{1} << 20;

json check_record(const std::string& text) {
    json record = json::parse(text, nullptr, false);
    const bool is_one = record.is_object() && record.value("schema", json()) == "ebbtide.bench_check/1" &&
                        record.value("bench", json()).is_string() && record.value("kind", json()).is_string();
    return is_one ? record : json();
}

/// The recordings of the steps that lie beside the record: bytes by name.
Result<std::map<std::string, std::string>> recordings_beside(const std::string& file, const json& record) {
    std::map<std::string, std::string> found;
    const auto steps = record.find("steps");
    if (steps == record.end() || !steps->is_array()) return found;
    for (const json& step : *steps) {
        const std::string name = step.is_object() ? text_at(step, "/recording") : std::string();
        // A name is one of this folder: the record may have been written by anybody.
        if (name.empty() || std::filesystem::path(name).filename().string() != name) continue;
        const auto path = std::filesystem::path(file).parent_path() / name;
        std::error_code none;
        if (!std::filesystem::is_regular_file(path, none)) continue;
        auto bytes = ledger::read_file(path.string(), ledger::largest_segment);
        if (!bytes) return bytes.error();
        found[name] = std::move(bytes).value();
    }
    return found;
}

bool holds_recordings(const json& body) {
    for (const json& step : body.value("steps", json::array()))
        if (step.is_object() && step.value("sha256", json()).is_string()) return true;
    return false;
}

}  // namespace

Result<Draft> check_draft(const std::string& text, const std::string& name,
                          const std::map<std::string, std::string>& recordings) {
    json body = check_record(text);
    if (body.is_null())
        return Error{Fault::bad_input, "is no record of a bench check", name,
                     "Records of bench checks are written by 'ebbtide check' and are not edited"};
    body["sha256"] = sha256_hex(text);
    if (const auto steps = body.find("steps"); steps != body.end() && steps->is_array())
        for (json& step : *steps) {
            if (!step.is_object()) continue;
            const json file = step.value("recording", json());
            const auto kept = file.is_string() ? recordings.find(file.get<std::string>()) : recordings.end();
            step["sha256"] = kept == recordings.end() ? json() : json(kept->second);
        }
    auto line = ledger::canonical_line(body);
    if (!line) return line.error();
    return Draft{Kind::bench_check,
                 ledger::check_id(body["bench"].get<std::string>(), name),
                 std::move(line).value(),
                 "",
                 "",
                 false};
}

Result<ledger::Entry> put_check(Database& ledger, const Draft& draft, Instant now) {
    auto there = ledger::newest(ledger, Kind::bench_check, draft.id);
    if (!there) return there.error();
    if (*there && !(*there)->voided) {
        const json was = json::parse((*there)->body, nullptr, false), is = json::parse(draft.body);
        const bool same = was.is_object() && was.value("sha256", json()) == is.at("sha256");
        if (same && (holds_recordings(was) || !holds_recordings(is))) return std::move(**there);
        Draft completed = draft;
        if (same && completed.why.empty()) completed.why = "its recordings";
        return ledger::put_entry(ledger, completed, now);
    }
    return ledger::put_entry(ledger, draft, now);
}

Result<CheckAdded> add_check(Database& ledger, const CheckAddition& addition, Instant now) {
    const auto text = ledger::read_file(addition.file, largest_check_record);
    if (!text) return text.error();
    const json record = check_record(*text);
    const auto recordings = recordings_beside(addition.file, record);
    if (!recordings) return recordings.error();
    std::map<std::string, std::string> hashes;
    for (const auto& [name, bytes] : *recordings) hashes[name] = sha256_hex(bytes);
    auto draft = check_draft(*text, addition.file, hashes);
    if (!draft) return draft.error();
    draft->who = addition.who.empty() ? text_at(record, "/by") : addition.who;
    draft->why = addition.why;

    auto writing = ledger::Writing::begin(ledger);
    if (!writing) return writing.error();
    const auto before = ledger::head(ledger);
    if (!before) return before.error();
    if (const auto kept = ledger::put_segment(ledger, *text, now); !kept) return kept.error();
    for (const auto& [name, bytes] : *recordings)
        if (const auto kept = ledger::put_segment(ledger, bytes, now); !kept) return kept.error();
    const auto segments = ledger::head(ledger);
    if (!segments) return segments.error();
    const auto entry = put_check(ledger, *draft, now);
    if (!entry) return entry.error();
    const auto head = ledger::head(ledger);
    if (!head) return head.error();
    if (const auto done = writing->commit(); !done) return done.error();
    return CheckAdded{draft->id,
                      text_at(record, "/kind"),
                      text_at(record, "/outcome"),
                      head->number - segments->number,
                      segments->number - before->number,
                      *head};
}

bool is_check_record(const std::string& file) {
    std::error_code none;
    if (!file.ends_with(".json") || !std::filesystem::is_regular_file(file, none)) return false;
    const auto text = ledger::read_file(file, largest_check_record);
    return text && !check_record(*text).is_null();
}

}  // namespace ebbtide::work
