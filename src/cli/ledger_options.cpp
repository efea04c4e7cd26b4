#include "cli/ledger_options.hpp"

#include <CLI/CLI.hpp>

namespace ebbtide::cli {
namespace {

using Command = int (*)(const LedgerOptions&);

CLI::App* add(CLI::App& ledger, const char* name, const char* what, const char* example,
              LedgerOptions& options, Command command, int& code) {
    CLI::App* added = ledger.add_subcommand(name, what);
    added->add_option("--ledger", options.ledger, "the ledger's file")->envname("EBBTIDE_LEDGER")->required();
    added->footer(std::string("Example: ") + example);
    added->callback([&options, command, &code] { code = command(options); });
    return added;
}

void add_query(CLI::App& find, LedgerOptions& options) {
    const auto text = [&](const char* name, std::string& into, const char* what) {
        find.add_option(name, into, what);
    };
    text("--order", options.query.order, "its id holds this");
    text("--customer", options.query.customer, "the customer's name holds this");
    text("--material", options.query.material, "the description of an item holds this");
    text("--lot", options.query.lot, "the lot of that item holds this");
    text("--method", options.query.method, "the id of the test method holds this");
    text("--specification", options.query.specification, "the id of the specification holds this");
    text("--bench", options.query.bench, "the id of the bench holds this");
    text("--certificate", options.query.certificate,
         "the number of a calibration certificate of the bench holds this");
    text("--check", options.query.check, "the id of a bench check that the order rests on holds this");
    text("--statement", options.query.statement,
         "pass, conditional pass, conditional fail, fail or void; exactly this");
    text("--from", options.from, "tested on this day or later: 2026-03-14");
    text("--to", options.to, "tested on this day or earlier");
}

CLI::App& add_person(CLI::App& command, LedgerOptions& options, const std::string& when) {
    command.add_option("--who", options.who, "your initials; " + when);
    command.add_option("--why", options.why, "the reason; " + when);
    return command;
}

}  // namespace

void add_ledger_commands(CLI::App& app, LedgerOptions& options, int& code) {
    CLI::App* ledger =
        app.add_subcommand("ledger", "Keeps orders, runs and reports for years, and finds them");
    ledger->require_subcommand(1);
    ledger->footer(
        "Example: ebbtide ledger find --ledger lab.ledger --statement fail\n"
        "EBBTIDE_LEDGER names the file where --ledger does not.");
    const auto command = [&](const char* name, const char* what, const char* example, Command run) {
        return add(*ledger, name, what, example, options, run, code);
    };

    command("init", "Makes a new ledger", "ebbtide ledger init --ledger new.ledger", ledger_init);

    CLI::App* add_command = command(
        "add", "Judges an order, or reads its report, or a bench check's record, and keeps all of it",
        "ebbtide ledger add ORDER_DIR --ledger lab.ledger --who TO --why \"first entry\"", ledger_add);
    add_command
        ->add_option("order", options.place,
                     "folder that holds order.toml, a PDF report, or the record of a bench check")
        ->required();
    add_person(*add_command, options, "needed where something is corrected");

    CLI::App* find = command("find", "Lists orders that answer everything that is asked",
                             "ebbtide ledger find --ledger lab.ledger --lot 7 --statement pass", ledger_find);
    add_query(*find, options);
    auto* transcribed =
        find->add_flag("--transcribed", options.transcribed, "instead of orders: decay times copied by hand");
    auto* checks = find->add_flag("--checks", options.checks, "instead of orders: bench checks");
    find->add_flag("--validations", options.validations, "instead of orders: validations of computers")
        ->excludes(transcribed)
        ->excludes(checks);
    checks->excludes(transcribed);
    find->add_flag("--json", options.json,
                   "one ebbtide.ledger-find/1 document, with every decay time; of others: -transcripts/1, "
                   "-checks/1, -validations/1");

    CLI::App* materials =
        command("materials", "Lists every material with its orders, reports and decay times",
                "ebbtide ledger materials --ledger lab.ledger", ledger_materials);
    materials->add_flag("--json", options.json, "one ebbtide.ledger-materials/1 document");

    CLI::App* person =
        command("person", "Says whose initials stand in the ledger",
                "ebbtide ledger person \"T. Okafor\" --initials TO --ledger lab.ledger", ledger_person);
    person->add_option("name", options.place, "the person's name, as on orders")->required();
    person->add_option("--initials", options.initials, "theirs, and nobody else's")->required();
    add_person(*person, options, "needed where other initials are kept");

    CLI::App* transcribe = command(
        "transcribe", "Keeps a table of decay times that were copied by hand, apart from what was recorded",
        "ebbtide ledger transcribe old-times.csv --ledger lab.ledger --who TO --why \"notebook of 2019\"",
        ledger_transcribe);
    transcribe->add_option("file", options.place, "delimited text, its first line names the columns")
        ->required();
    add_person(*transcribe, options, "needed");

    CLI::App* trend =
        command("trend", "How the decay time of a material went over the years",
                "ebbtide ledger trend --material cloth --level 10% --ledger lab.ledger", ledger_trend);
    trend->add_option("--material", options.query.material, "the description of an item holds this")
        ->required();
    trend->add_option("--level", options.level, "only this one: 10%, 1/e, 500 V; usual: all of them");
    trend->add_option("--by", options.by, "month or year")->check(CLI::IsMember({"month", "year"}));
    trend->add_flag("--json", options.json, "one ebbtide.ledger-trend/1 document");

    CLI::App* get = command("get", "Takes the report of an order out again",
                            "ebbtide ledger get TP-2026-0914 --ledger lab.ledger -o again.pdf", ledger_get);
    get->add_option("order", options.place, "the order's id")->required();
    get->add_flag("--validation", options.validations, "instead: a validation, by its id");
    get->add_option("-o,--output", options.output, "a new file that ends in .pdf")->required();

    CLI::App* pedigree = command(
        "pedigree", "Shows all that a figure rests on",
        "ebbtide ledger pedigree \"TP-2026-0914/W1 front dry-1 + 1\" --ledger lab.ledger", ledger_pedigree);
    pedigree
        ->add_option("figure", options.place,
                     "ORDER (the statement), ORDER/RUN (id, the beginning of it, or place in the plan), or "
                     "ORDER/REQUIREMENT")
        ->required();
    pedigree->add_option("--level", options.level, "of a run: only this level, 10% or 500V");
    pedigree->add_option("--group", options.group, "of a requirement: which of its results");
    pedigree->add_option("--revision", options.revision,
                         "of the statement; usual: the newest with the figure");
    pedigree->add_flag("--json", options.json, "one ebbtide.ledger-pedigree/1 document");

    CLI::App* revisions =
        command("revisions", "Lists who wrote, corrected or withdrew what of an order, when and why",
                "ebbtide ledger revisions TP-2026-0914 --ledger lab.ledger", ledger_revisions);
    revisions->add_option("order", options.place, "the order's id")->required();
    revisions->add_flag("--json", options.json, "one ebbtide.ledger-revisions/1 document");

    CLI::App* withdraw = command(
        "void", "Withdraws an order or one of its runs; nothing is deleted",
        "ebbtide ledger void TP-2026-0914 --ledger lab.ledger --who IM --why \"another lot\"", ledger_void);
    withdraw->add_option("order", options.place, "the order's id")->required();
    withdraw->add_option("--run", options.run, "only this run: id, beginning of it, or place in the plan");
    withdraw->add_flag("--transcribed", options.transcribed,
                       "instead of an order: all rows of a transcribed file, by its id");
    withdraw->add_flag("--check", options.checks, "instead of an order: a bench check, by its id");
    withdraw->add_flag("--validation", options.validations, "instead of an order: a validation, by its id");
    add_person(*withdraw, options, "needed");

    CLI::App* check = command("check", "Looks whether anything was changed, lost or damaged",
                              "ebbtide ledger check --ledger lab.ledger", ledger_check);
    check->add_flag("--rebuild-index", options.rebuild_index, "first write the tables for finding anew");

    command("backup", "Copies the ledger, also while others write to it",
            "ebbtide ledger backup monday.ledger --ledger lab.ledger", ledger_backup)
        ->add_option("file", options.place, "a new file")
        ->required();
    command("restore", "Checks a backup and puts it where no ledger is",
            "ebbtide ledger restore backup.ledger --ledger restored.ledger", ledger_restore)
        ->add_option("file", options.place, "the backup")
        ->required();
    command("export", "Writes everything as a directory of open formats",
            "ebbtide ledger export exported --ledger lab.ledger", ledger_export)
        ->add_option("directory", options.place, "a new directory")
        ->required();
    command("import", "Makes a ledger of an export", "ebbtide ledger import export --ledger imported.ledger",
            ledger_import)
        ->add_option("directory", options.place, "the export")
        ->required();
}

}  // namespace ebbtide::cli
