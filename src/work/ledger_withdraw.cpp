#include "work/ledger_withdraw.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "work/ledger_entries.hpp"
#include "work/ledger_figure.hpp"

namespace ebbtide::work {
namespace {

using ledger::Database;
using ledger::Entry;
using ledger::Kind;
using nlohmann::json;

Error unknown_order(const Database& ledger, const std::string& order) {
    return {Fault::bad_input, fmt::format("has no order '{}'", order), ledger.path(),
            "'ebbtide ledger find' lists the orders"};
}

/// The one run that is named, to be withdrawn.
Result<Entry> run_to_withdraw(Database& ledger, const Withdrawal& asked) {
    const auto standing = standing_runs(ledger, asked.order);
    if (!standing) return standing.error();
    std::vector<NamedRun> names;
    for (const Entry& run : *standing)
        names.push_back({run.id, json::parse(run.body, nullptr, false).value("label", std::string())});
    const auto place = place_of_run(names, asked.order, asked.run);
    if (!place) return place.error();
    if (*place) return standing->at(**place);
    return Error{
        Fault::bad_input, fmt::format("has no run '{}', or it is withdrawn already", asked.run),
        "order " + asked.order,
        fmt::format("'ebbtide ledger revisions {}' says what was withdrawn, by whom and why", asked.order)};
}

/// The entries that go, the statement first.
Result<std::vector<Entry>> all_to_withdraw(Database& ledger, const Withdrawal& asked,
                                           const std::optional<Entry>& statement) {
    if (!asked.run.empty()) {
        auto run = run_to_withdraw(ledger, asked);
        if (!run) return run.error();
        return std::vector{std::move(run).value()};
    }
    std::vector<Entry> all;
    if (statement) all.push_back(*statement);
    const auto report = ledger::newest(ledger, Kind::report, asked.order);
    if (!report) return report.error();
    if (*report && !(*report)->voided) all.push_back(**report);
    const auto runs = standing_runs(ledger, asked.order);
    if (!runs) return runs.error();
    all.insert(all.end(), runs->begin(), runs->end());
    return all;
}

std::optional<Error> fault_of(const Withdrawal& asked) {
    for (const auto& [text, option] : {std::pair{&asked.who, "--who"}, std::pair{&asked.why, "--why"}})
        if (text->empty())
            return Error{Fault::bad_input, "is needed: what is withdrawn says by whom and why", option,
                         "Say --who INITIALS --why TEXT"};
    return {};
}

/// Within a Writing.
Result<Withdrawn> withdraw_all(Database& ledger, const Withdrawal& asked, Instant now) {
    const auto newest = ledger::newest(ledger, Kind::statement, asked.order);
    if (!newest) return newest.error();
    if (!*newest) return unknown_order(ledger, asked.order);
    const bool stands = !(*newest)->voided;
    const auto entries = all_to_withdraw(ledger, asked, stands ? *newest : std::optional<ledger::Entry>());
    if (!entries) return entries.error();
    if (entries->empty())
        return Error{Fault::bad_input, "is withdrawn already, with all its runs", "order " + asked.order,
                     fmt::format("'ebbtide ledger revisions {}' says by whom and why", asked.order)};
    Withdrawn withdrawn;
    withdrawn.statement_stands = stands && !asked.run.empty();
    for (const Entry& entry : *entries) {
        const auto put =
            ledger::put_entry(ledger, {entry.kind, entry.id, "null", asked.who, asked.why, true}, now);
        if (!put) return put.error();
        withdrawn.entries.push_back(fmt::format("{} {}", ledger::name_of(entry.kind), entry.id));
    }
    const auto head = ledger::head(ledger);
    if (!head) return head.error();
    withdrawn.head = *head;
    return withdrawn;
}

}  // namespace

Result<Withdrawn> withdraw(Database& ledger, const Withdrawal& withdrawal, Instant now) {
    if (const auto fault = fault_of(withdrawal)) return *fault;
    auto writing = ledger::Writing::begin(ledger);
    if (!writing) return writing.error();
    auto withdrawn = withdraw_all(ledger, withdrawal, now);
    if (!withdrawn) return withdrawn;
    if (const auto done = writing->commit(); !done) return done.error();
    return withdrawn;
}

Result<ledger::Link> withdraw_entry(Database& ledger, Kind kind, const Withdrawal& withdrawal, Instant now) {
    if (const auto fault = fault_of(withdrawal)) return *fault;
    auto writing = ledger::Writing::begin(ledger);
    if (!writing) return writing.error();
    const auto put = ledger::put_entry(
        ledger, {kind, withdrawal.order, "null", withdrawal.who, withdrawal.why, true}, now);
    if (!put) return put.error();
    const auto head = ledger::head(ledger);
    if (!head) return head;
    if (const auto done = writing->commit(); !done) return done.error();
    return head;
}

Result<std::vector<Entry>> order_revisions(Database& ledger, const std::string& order) {
    const std::string begin = order + "/", after = order + "0";  // the first text behind "ORDER/..."
    std::vector<Entry> found;
    const auto read =
        ledger.each(fmt::format("SELECT {} FROM entry e JOIN link l ON l.number = e.number "
                                "WHERE (e.kind IN ('order', 'statement', 'report') AND e.id = ?) "
                                "OR (e.kind = 'run' AND e.id >= ? AND e.id < ?) ORDER BY e.number",
                                ledger::entry_columns),
                    {order, begin, after}, [&](const ledger::Row& row) -> Result<Done> {
                        auto entry = ledger::entry_at(row);
                        if (!entry) return entry.error();
                        found.push_back(std::move(entry).value());
                        return Done{};
                    });
    if (!read) return read.error();
    if (std::ranges::none_of(found, [&](const Entry& entry) { return entry.id == order; }))
        return unknown_order(ledger, order);
    // Runs of another order whose id begins with this one's and a stroke; what is voided has no body to tell.
    std::vector<std::string> of_others;
    for (const Entry& entry : found)
        if (entry.kind == Kind::run && !entry.voided &&
            json::parse(entry.body, nullptr, false).value("order", json()) != order)
            of_others.push_back(entry.id);
    std::erase_if(found, [&](const Entry& entry) {
        return entry.kind == Kind::run && std::ranges::find(of_others, entry.id) != of_others.end();
    });
    return found;
}

json json_of(const std::string& order, const std::vector<Entry>& revisions) {
    json all = json::array();
    for (const Entry& entry : revisions)
        all.push_back({{"kind", ledger::name_of(entry.kind)},
                       {"id", entry.id},
                       {"revision", entry.revision},
                       {"number", entry.number},
                       {"at", iso_text(entry.at)},
                       {"who", entry.who},
                       {"why", entry.why},
                       {"voided", entry.voided},
                       {"sha256", entry.sha256}});
    return {{"schema", "ebbtide.ledger-revisions/1"}, {"order", order}, {"revisions", std::move(all)}};
}

}  // namespace ebbtide::work
