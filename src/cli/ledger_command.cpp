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
#include "work/ledger_checks.hpp"
#include "work/ledger_export.hpp"
#include "work/ledger_pedigree.hpp"
#include "work/ledger_people.hpp"
#include "work/ledger_report.hpp"
#include "work/ledger_transcribe.hpp"
#include "work/ledger_validation.hpp"
#include "work/ledger_withdraw.hpp"

namespace ebbtide::cli {
namespace {

using ledger::Database;

void print_whole(const ledger::Checked& checked) {
    fmt::print("{}, {}, {}: all is well\nhead {}\n", counted(checked.head.number, "link", "links"),
               counted(checked.entries, "entry", "entries"), counted(checked.segments, "segment", "segments"),
               checked.head.sha256);
    for (const std::string& note : checked.notes) fmt::print("note     {}\n", note);
}

int void_entry(Database& database, ledger::Kind kind, const LedgerOptions& options) {
    const auto head = work::withdraw_entry(database, kind, {options.place, "", options.who, options.why},
                                           time_of_writing());
    if (!head) return complain(head.error());
    fmt::print("{}: withdrawn; nothing is deleted\nhead {}\n", options.place, head->sha256);
    return ok;
}

int add_check(Database& database, const LedgerOptions& options) {
    const auto added =
        work::add_check(database, {options.place, options.who, options.why}, time_of_writing());
    if (!added) return complain(added.error());
    if (added->entries == 0)
        fmt::print("{}: there already\n", added->check);
    else
        fmt::print("{}: {}, {} added\n", added->check, added->outcome,
                   counted(added->segments, "segment", "segments"));
    fmt::print("head {}\n", added->head.sha256);
    return ok;
}

int void_transcript(Database& database, const LedgerOptions& options) {
    const auto rows =
        work::withdraw_transcript(database, options.place, options.who, options.why, time_of_writing());
    if (!rows) return complain(rows.error());
    fmt::print("{}: {} withdrawn; nothing is deleted\n", options.place, counted(*rows, "row", "rows"));
    return ok;
}

int get_validation(Database& database, const LedgerOptions& options) {
    const auto report = work::validation_report(database, options.place);
    if (!report) return complain(report.error());
    if (const auto written = ledger::write_new_file(options.output, *report); !written)
        return complain(written.error());
    fmt::print("{}: the report as it was kept\n", options.output);
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
    if (work::is_check_record(options.place)) return add_check(*database, options);
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

int ledger_pedigree(const LedgerOptions& options) {
    auto database = ledger::open_ledger(options.ledger, Database::Access::read);
    if (!database) return complain(database.error());
    const auto pedigree =
        work::pedigree(*database, {options.place, options.group, options.revision}, options.level);
    if (!pedigree) return complain(pedigree.error());
    fmt::print("{}", options.json ? record::canonical_text(*pedigree) : pedigree_text(*pedigree));
    return ok;
}

int ledger_person(const LedgerOptions& options) {
    auto database = ledger::open_ledger(options.ledger, Database::Access::write);
    if (!database) return complain(database.error());
    const auto entry = work::add_person(
        *database, {options.place, options.initials, options.who, options.why}, time_of_writing());
    if (!entry) return complain(entry.error());
    fmt::print("{}: {}, revision {}\n", options.initials, options.place, entry->revision);
    return ok;
}

int ledger_void(const LedgerOptions& options) {
    auto database = ledger::open_ledger(options.ledger, Database::Access::write);
    if (!database) return complain(database.error());
    if (options.transcribed) return void_transcript(*database, options);
    if (options.checks) return void_entry(*database, ledger::Kind::bench_check, options);
    if (options.validations) return void_entry(*database, ledger::Kind::validation, options);
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
    if (options.validations) return get_validation(*database, options);
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
