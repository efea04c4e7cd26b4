#include "work/ledger_report.hpp"

#include <fmt/format.h>

#include <nlohmann/json.hpp>
#include <set>

#include "ledger/entries.hpp"
#include "ledger/segments.hpp"
#include "work/judge_order.hpp"
#include "work/lot_report.hpp"
#include "work/report_input.hpp"

namespace ebbtide::work {
namespace {

using ledger::Kind;
using nlohmann::json;

Result<ledger::Entry> statement_of(ledger::Database& ledger, const std::string& order) {
    auto statement = ledger::newest(ledger, Kind::statement, order);
    if (!statement) return statement.error();
    if (!*statement || (*statement)->voided)
        return Error{Fault::bad_input,
                     fmt::format("{} order '{}'", *statement ? "has voided" : "has no", order), ledger.path(),
                     "'ebbtide ledger find' lists the orders"};
    return std::move(**statement);
}

/// The report, where one came in since the statement was made.
Result<std::optional<std::string>> issued(ledger::Database& ledger, const ledger::Entry& statement) {
    const auto entry = ledger::newest(ledger, Kind::report, statement.id);
    if (!entry) return entry.error();
    if (!*entry || (*entry)->voided || (*entry)->number < statement.number)
        return std::optional<std::string>();
    const json body = json::parse((*entry)->body, nullptr, false);
    auto pdf = ledger::segment(ledger, body.value("sha256", std::string()));
    if (!pdf) return pdf.error();
    return std::optional(std::move(pdf).value());
}

Result<std::vector<report::Attachment>> files_of(ledger::Database& ledger, const json& statement) {
    std::vector<report::Attachment> files;
    std::set<std::string> names;
    const auto add = [&](const std::string& name, const std::string& sha256) -> Result<Done> {
        if (!names.insert(name).second) return Done{};
        auto bytes = ledger::segment(ledger, sha256);
        if (!bytes) return bytes.error();
        files.push_back({name, "", "", std::move(bytes).value()});
        return Done{};
    };
    auto added = add("record.json", statement.at("record"));
    if (!added) return added.error();
    for (const json& file : statement.at("files")) {
        if (!file.at("kept").get<bool>()) continue;
        added = add(file.at("name"), file.at("sha256"));
        if (!added) return added.error();
    }
    return files;
}

}  // namespace

Result<std::vector<report::Attachment>> files_from_ledger(ledger::Database& ledger,
                                                          const std::string& order) {
    const auto statement = statement_of(ledger, order);
    if (!statement) return statement.error();
    return files_of(ledger, json::parse(statement->body));
}

Result<LedgerReport> report_from_ledger(ledger::Database& ledger, const std::string& order) {
    const auto statement = statement_of(ledger, order);
    if (!statement) return statement.error();
    auto pdf = issued(ledger, *statement);
    if (!pdf) return pdf.error();
    if (*pdf) return LedgerReport{std::move(**pdf), true};
    const json body = json::parse(statement->body);
    auto kept = files_of(ledger, body);
    if (!kept) return kept.error();
    // The time of judging stays that of the statement.
    const auto made = parse_instant(body.at("made").get<std::string>());
    if (!made) return made.error();
    const auto files = attached_files(std::move(kept).value());
    auto judged = judge_order(*files, *made, {}, {}, {}, full_depth);
    if (!judged)
        return Error{judged.error().code,
                     "the report cannot be made again from what is kept: " + judged.error().text(), order,
                     "A report that was added comes out as it was"};
    auto input = report_input(*files, std::move(judged).value());
    if (!input) return input.error();
    auto made_again = report::to_pdf(*input, lot_statements(input->record));
    if (!made_again) return made_again.error();
    return LedgerReport{std::move(made_again).value(), false};
}

}  // namespace ebbtide::work
