// ebbtide ledger find and materials: what there is.

#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "cli/commands.hpp"
#include "cli/print.hpp"
#include "cli/print_ledger.hpp"
#include "ledger/checks.hpp"
#include "ledger/find.hpp"
#include "ledger/materials.hpp"
#include "ledger/migrations.hpp"
#include "record/json.hpp"
#include "work/ledger_transcribe.hpp"
#include "work/ledger_validation.hpp"

namespace ebbtide::cli {
namespace {

using ledger::Database;

std::string found_text(const ledger::FoundOrder& order) {
    std::string text = fmt::format(
        "{} {} {}  {}\n", padded(order.order, 16), padded(fmt::format("rev. {}", order.revision), 8),
        order.tested_from == order.tested_to ? order.tested_to : order.tested_from + " to " + order.tested_to,
        shape_and_word(conformity_of(order.statement)));
    text += "    " + wrapped(order.customer, 76, 4) + "\n";
    for (const ledger::FoundItem& item : order.items)
        text += "    " +
                wrapped(fmt::format("{}: {}{}", item.item, item.material,
                                    item.lot.empty() ? "" : ", lot " + item.lot),
                        76, 8) +
                "\n";
    text += "    " +
            wrapped(fmt::format("{} under {}, {}{}", order.specification, order.method,
                                counted(order.runs, "run", "runs"),
                                order.bench.empty() ? "" : ", bench " + order.bench),
                    76, 8) +
            "\n";
    return text;
}

Result<ledger::Query> query_of(const LedgerOptions& options) {
    ledger::Query query = options.query;
    for (const auto& [text, date, name] :
         {std::tuple{&options.from, &query.from, "--from"}, std::tuple{&options.to, &query.to, "--to"}}) {
        if (text->empty()) continue;
        auto parsed = parse_date(*text);
        if (!parsed) {
            Error error = parsed.error();
            error.where = name;
            return error;
        }
        *date = *parsed;
    }
    return query;
}

int shown(const Result<nlohmann::json>& found, std::string (*text)(const nlohmann::json&), bool json) {
    if (!found) return complain(found.error());
    fmt::print("{}", json ? record::canonical_text(*found) : text(*found));
    return ok;
}

}  // namespace

int ledger_find(const LedgerOptions& options) {
    const auto query = query_of(options);
    if (!query) return complain(query.error());
    auto database = ledger::open_ledger(options.ledger, Database::Access::read);
    if (!database) return complain(database.error());
    if (options.transcribed)
        return shown(work::transcripts(*database, *query), transcripts_text, options.json);
    if (options.validations)
        return shown(work::validations(*database, *query), validations_text, options.json);
    if (options.checks) {
        const auto checks = ledger::find_checks(*database, *query);
        if (!checks) return complain(checks.error());
        return shown(Result<nlohmann::json>(ledger::json_of_checks(*checks)), checks_text, options.json);
    }
    const auto found = ledger::find(*database, *query);
    if (!found) return complain(found.error());
    if (options.json) {
        const auto json = ledger::json_of(*database, *found);
        if (!json) return complain(json.error());
        fmt::print("{}", record::canonical_text(*json));
        return ok;
    }
    for (const ledger::FoundOrder& order : *found) fmt::print("{}", found_text(order));
    fmt::print("{}\n", counted(static_cast<std::int64_t>(found->size()), "order", "orders"));
    return ok;
}

int ledger_materials(const LedgerOptions& options) {
    auto database = ledger::open_ledger(options.ledger, Database::Access::read);
    if (!database) return complain(database.error());
    const auto materials = ledger::materials(*database);
    if (!materials) return complain(materials.error());
    fmt::print("{}", options.json ? record::canonical_text(ledger::json_of(*materials))
                                  : materials_text(*materials));
    return ok;
}

}  // namespace ebbtide::cli
