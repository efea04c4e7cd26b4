#include <fmt/format.h>

#include <filesystem>
#include <nlohmann/json.hpp>

#include "cli/clock.hpp"
#include "cli/commands.hpp"
#include "cli/print.hpp"
#include "cli/print_ledger.hpp"
#include "ledger/archive.hpp"
#include "ledger/backup.hpp"
#include "ledger/check.hpp"
#include "ledger/durable_file.hpp"
#include "ledger/migrations.hpp"
#include "record/json.hpp"
#include "work/ledger_add.hpp"
#include "work/ledger_export.hpp"
#include "work/ledger_pedigree.hpp"
#include "work/ledger_report.hpp"
#include "work/ledger_transcribe.hpp"
#include "work/ledger_withdraw.hpp"

namespace ebbtide::cli {
namespace {

using ledger::Database;

std::string counted(std::int64_t count, const char* one, const char* many) {
    return fmt::format("{} {}", count, count == 1 ? one : many);
}

void print_whole(const ledger::Checked& checked) {
    fmt::print("{}, {}, {}: all is well\nhead {}\n", counted(checked.head.number, "link", "links"),
               counted(checked.entries, "entry", "entries"), counted(checked.segments, "segment", "segments"),
               checked.head.sha256);
    for (const std::string& note : checked.notes) fmt::print("note     {}\n", note);
}

plan::Conformity conformity_of(const std::string& word) {
    for (const plan::Conformity one : {plan::Conformity::pass, plan::Conformity::conditional_pass,
                                       plan::Conformity::conditional_fail, plan::Conformity::fail})
        if (word == plan::name_of(one)) return one;
    return plan::Conformity::void_;
}

std::string text_of(const ledger::FoundOrder& order) {
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

int find_transcripts(Database& database, const ledger::Query& query, bool json) {
    const auto found = work::transcripts(database, query);
    if (!found) return complain(found.error());
    fmt::print("{}", json ? record::canonical_text(*found) : transcripts_text(*found));
    return ok;
}

int void_transcript(Database& database, const LedgerOptions& options) {
    const auto rows =
        work::withdraw_transcript(database, options.place, options.who, options.why, time_of_writing());
    if (!rows) return complain(rows.error());
    fmt::print("{}: {} withdrawn; nothing is deleted\n", options.place, counted(*rows, "row", "rows"));
    return ok;
}

}  // namespace

int ledger_init(const LedgerOptions& options) {
    const auto made = ledger::create_ledger(options.ledger);
    if (!made) return complain(made.error());
    fmt::print("{}: a new ledger\n", options.ledger);
    return ok;
}

int ledger_add(const LedgerOptions& options) {
    auto database = ledger::open_ledger(options.ledger, Database::Access::write);
    if (!database) return complain(database.error());
    const auto added =
        work::add_to_ledger(*database, {options.place, options.who, options.why}, time_of_writing(),
                            [](const std::string& name, std::size_t number, std::size_t count) {
                                tell(fmt::format("reading recording {} of {}: {}\n", number, count, name));
                            });
    if (!added) return complain(added.error());
    if (added->entries == 0)
        fmt::print("order {}: there already, revision {}, nothing to add\n", added->order, added->revision);
    else
        fmt::print(
            "order {}: {}, revision {}: {} and {} added{}\n", added->order,
            shape_and_word(conformity_of(added->statement)), added->revision,
            counted(added->entries, "entry", "entries"), counted(added->segments, "segment", "segments"),
            added->withdrawn == 0 ? ""
                                  : fmt::format(", {} withdrawn", counted(added->withdrawn, "run", "runs")));
    for (const std::string& difference : added->differences) fmt::print("differs  {}\n", difference);
    fmt::print("head {}\n", added->head.sha256);
    return added->differences.empty() ? ok : differs;
}

int ledger_transcribe(const LedgerOptions& options) {
    auto database = ledger::open_ledger(options.ledger, Database::Access::write);
    if (!database) return complain(database.error());
    const auto done =
        work::transcribe(*database, {options.place, options.who, options.why}, time_of_writing());
    if (!done) return complain(done.error());
    fmt::print("{}: {}, {} written, as {}\nhead {}\n", options.place, counted(done->rows, "row", "rows"),
               done->written, done->file, done->head.sha256);
    return ok;
}

int ledger_find(const LedgerOptions& options) {
    const auto query = query_of(options);
    if (!query) return complain(query.error());
    auto database = ledger::open_ledger(options.ledger, Database::Access::read);
    if (!database) return complain(database.error());
    if (options.transcribed) return find_transcripts(*database, *query, options.json);
    const auto found = ledger::find(*database, *query);
    if (!found) return complain(found.error());
    if (options.json) {
        const auto json = ledger::json_of(*database, *found);
        if (!json) return complain(json.error());
        fmt::print("{}", record::canonical_text(*json));
        return ok;
    }
    for (const ledger::FoundOrder& order : *found) fmt::print("{}", text_of(order));
    fmt::print("{}\n", counted(static_cast<std::int64_t>(found->size()), "order", "orders"));
    return ok;
}

int ledger_pedigree(const LedgerOptions& options) {
    auto database = ledger::open_ledger(options.ledger, Database::Access::read);
    if (!database) return complain(database.error());
    const auto pedigree =
        work::pedigree(*database, {options.place, options.group, options.revision}, options.level);
    if (!pedigree) return complain(pedigree.error());
    fmt::print("{}", options.json ? record::canonical_text(*pedigree) : pedigree_text(*pedigree));
    return ok;
}

int ledger_void(const LedgerOptions& options) {
    auto database = ledger::open_ledger(options.ledger, Database::Access::write);
    if (!database) return complain(database.error());
    if (options.transcribed) return void_transcript(*database, options);
    const auto withdrawn =
        work::withdraw(*database, {options.place, options.run, options.who, options.why}, time_of_writing());
    if (!withdrawn) return complain(withdrawn.error());
    fmt::print("{}: {} withdrawn; nothing is deleted\n", options.place,
               counted(static_cast<std::int64_t>(withdrawn->entries.size()), "entry", "entries"));
    if (withdrawn->statement_stands)
        fmt::print("{}\n", wrapped("The statement of the order still rests on this run. Judge the order "
                                   "again without it, and add it.",
                                   screen, 0));
    fmt::print("head {}\n", withdrawn->head.sha256);
    return ok;
}

int ledger_revisions(const LedgerOptions& options) {
    auto database = ledger::open_ledger(options.ledger, Database::Access::read);
    if (!database) return complain(database.error());
    const auto revisions = work::order_revisions(*database, options.place);
    if (!revisions) return complain(revisions.error());
    fmt::print("{}", options.json ? record::canonical_text(work::json_of(options.place, *revisions))
                                  : revisions_text(*revisions));
    return ok;
}

int ledger_get(const LedgerOptions& options) {
    if (!options.output.ends_with(".pdf"))
        return complain({Fault::bad_input, fmt::format("'{}' is no .pdf", options.output), "--output",
                         "Name a new file that ends in .pdf"});
    auto database = ledger::open_ledger(options.ledger, Database::Access::read);
    if (!database) return complain(database.error());
    if (const auto is_new = ledger::must_be_new(options.output); !is_new) return complain(is_new.error());
    const auto report = work::report_from_ledger(*database, options.place);
    if (!report) return complain(report.error());
    if (const auto written = ledger::write_new_file(options.output, report->pdf); !written)
        return complain(written.error());
    fmt::print("{}: {}\n", options.output,
               report->as_issued ? "the report as it was added" : "made again from the files that are kept");
    return ok;
}

int ledger_check(const LedgerOptions& options) {
    auto database = ledger::open_ledger(
        options.ledger, options.rebuild_index ? Database::Access::write : Database::Access::read);
    if (!database) return complain(database.error());
    if (options.rebuild_index)
        if (const auto rebuilt = ledger::rebuild_index(*database); !rebuilt) return complain(rebuilt.error());
    const auto checked = ledger::check(*database);
    if (!checked) return complain(checked.error());
    if (checked->whole()) {
        print_whole(*checked);
        return ok;
    }
    for (const ledger::Damage& damage : checked->damages)
        fmt::print("damaged  {}\n         {}\n", damage.what, damage.advice);
    return differs;
}

int ledger_backup(const LedgerOptions& options) {
    auto database = ledger::open_ledger(options.ledger, Database::Access::read);
    if (!database) return complain(database.error());
    if (const auto copied = ledger::back_up(*database, options.place); !copied)
        return complain(copied.error());
    fmt::print("{}: a copy of {}\n", options.place, options.ledger);
    return ok;
}

int ledger_restore(const LedgerOptions& options) {
    const auto restored = ledger::restore(options.place, options.ledger);
    if (!restored) return complain(restored.error());
    print_whole(*restored);
    return ok;
}

int ledger_export(const LedgerOptions& options) {
    auto database = ledger::open_ledger(options.ledger, Database::Access::read);
    if (!database) return complain(database.error());
    const auto last = work::export_ledger(*database, options.place);
    if (!last) return complain(last.error());
    fmt::print("{}: {}\nhead {}\n", options.place, counted(last->number, "link", "links"), last->sha256);
    return ok;
}

int ledger_import(const LedgerOptions& options) {
    // Before a new ledger is made that would stay empty.
    if (const auto compared = ledger::compare_sums(options.place); !compared)
        return complain(compared.error());
    std::error_code none;
    const bool there = std::filesystem::exists(options.ledger, none);
    auto database = there ? ledger::open_ledger(options.ledger, Database::Access::write)
                          : ledger::create_ledger(options.ledger);
    if (!database) return complain(database.error());
    const auto last = ledger::import_from(options.place, *database);
    if (!last) return complain(last.error());
    fmt::print("{}: {}\nhead {}\n", options.ledger, counted(last->number, "link", "links"), last->sha256);
    return ok;
}

}  // namespace ebbtide::cli
