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
    text("--statement", options.query.statement,
         "pass, conditional pass, conditional fail, fail or void; exactly this");
    text("--from", options.from, "tested on this day or later: 2026-03-14");
    text("--to", options.to, "tested on this day or earlier");
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
        "add", "Judges an order, or reads its report, and keeps all of it",
        "ebbtide ledger add ORDER_DIR --ledger lab.ledger --who TO --why \"first entry\"", ledger_add);
    add_command->add_option("order", options.place, "folder that holds order.toml, or a PDF report")
        ->required();
    add_command->add_option("--who", options.who, "your initials; needed where something is corrected");
    add_command->add_option("--why", options.why, "the reason; needed where something is corrected");

    CLI::App* find = command("find", "Lists orders that answer everything that is asked",
                             "ebbtide ledger find --ledger lab.ledger --lot 7 --statement pass", ledger_find);
    add_query(*find, options);
    find->add_flag("--json", options.json, "one ebbtide.ledger-find/1 document, with every decay time");

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
    get->add_option("-o,--output", options.output, "a new file that ends in .pdf")->required();

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
