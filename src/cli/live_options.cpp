#include "cli/live_options.hpp"

#include <CLI/CLI.hpp>
#include <cstdlib>
#include <map>

namespace ebbtide::cli {
namespace {

void add_live_options(CLI::App& command, LiveBenchOptions& live) {
    command.add_option("--simulated", live.simulated,
                       "a simulated bench: a file of docs/formats/simulation.md");
    command.add_option("--pace", live.pace,
                       "of the simulated bench: fast, real, or how many times as fast as a real one");
    command.add_option("--seed", live.seed, "of the simulated bench and of a randomised sequence");
    command.add_option("--who", live.who, "your initials");
    command.add_flag("--ask", live.ask, "asks you, where the simulated bench would mount by itself");
    command.add_flag("--events", live.events, "one ebbtide.event/1 object a line, for all that happens");
    command.add_flag("--dry-run", live.dry_run, "shows every command that would be sent; nothing is written");
}

}  // namespace

CLI::App* add_listen_command(CLI::App& app, ListenOptions& options, int& code) {
    auto* command =
        app.add_subcommand("listen", "Cuts and measures runs as they come from a bench, and keeps them");
    command
        ->add_option("source", options.source,
                     "'-' (standard input), a file, tcp://HOST:PORT, serial:/dev/ttyUSB0?baud=115200, "
                     "replay:FILE?pace=1, or simulated:FILE?pace=real")
        ->required();
    command->add_flag("--follow", options.follow, "read a file on as it grows");
    command->add_option("--order", options.order,
                        "folder that holds order.toml: each run goes to the next open place of its plan");
    command->add_option("--conditions", options.conditions,
                        "id of the order's conditions that hold today, where it has several");
    command->add_option("--ledger", options.ledger, "with --order: the ledger that keeps each run too");
    command->add_option("--who", options.who, "your initials: corrections carry them");
    command->add_option("--override", options.override_,
                        "with --order: the reason why it is heard without a good bench check; needs --who");
    command->add_flag("--set-up", options.set_up,
                      "with --order: the set-up list of the bench file was gone through today; needs --who");
    std::map<std::string, plan::Mounted> mounted_words;
    for (const plan::Mounted mounted : plan::all_mounted)
        mounted_words.emplace(plan::name_of(mounted), mounted);
    command
        ->add_option("--reference", options.reference,
                     "with --order: the first runs are reference runs, of these in their order: nothing (the "
                     "empty fixture), standard (the RC check standard), blank (an insulator), plate (metal)")
        ->delimiter(',')
        ->transform(CLI::CheckedTransformer(mounted_words));
    command->add_flag("--keep-all", options.keep_all, "with --order: keep all that comes, not only the runs");
    auto* run_lines = command->add_flag("--json", options.json, "one ebbtide.run/1 object a line and run");
    command->add_flag("--events", options.events, "one ebbtide.event/1 object a line, for all that happens")
        ->excludes(run_lines);
    command->footer(
        "Example: ebbtide listen replay:recording.csv?pace=0 --json\n"
        "Ends with 0 when the source ends or Ctrl-C is pressed, 2 when the link is lost. Runs have the ids "
        "and\n"
        "figures that 'measure' gives for the same bytes in a file.");
    command->callback([&options, &code] {
        // Without an order there is nothing to keep.
        if (const char* named = std::getenv("EBBTIDE_LEDGER"); named && !options.order.empty())
            if (options.ledger.empty()) options.ledger = named;
        code = listen(options);
    });
    return command;
}

CLI::App* add_drive_command(CLI::App& app, DriveOptions& options, int& code) {
    auto* command =
        app.add_subcommand("drive", "Drives a bench through the open places of an order, run by run");
    command->add_option("order", options.order, "folder that holds order.toml")->required();
    command->add_option("--bench", options.bench_file, "bench file, where it is not the order's own");
    command->add_option("--conditions", options.conditions, "id of those of the order that hold today");
    command->add_option("--sequence", options.sequence,
                        "of the runs of a mounting: planned, alternated (polarities take turns) or "
                        "randomised (by --seed)");
    command->add_option("--override", options.override_,
                        "the reason why work starts without a good bench check; needs --who");
    command->add_option("--ledger", options.ledger, "the ledger's file: runs are kept there too")
        ->envname("EBBTIDE_LEDGER");
    command->add_flag("--commands", options.commands, "shows every command that is sent");
    add_live_options(*command, options.live);
    command->add_flag("--json", options.live.json, "the lines of the log (ebbtide.drive/1)");
    command->footer(
        "Example: ebbtide drive examples/awning-live --dry-run\n"
        "Ends with 0 when the plan is done, 3 when places were left open, 2 on bad input or when the bench\n"
        "could not be shown to be at rest.");
    command->callback([&options, &code] { code = drive(options); });
    return command;
}

CLI::App* add_check_command(CLI::App& app, CheckOptions& options, int& code) {
    auto* command = app.add_subcommand(
        "check", "Bench check: zero, span, linearity, empty fixture, check standard, blank, both polarities");
    command
        ->add_option("bench", options.bench_file, "bench file with a table [check]; to drive it, [drive] too")
        ->required();
    command->add_flag("--closing", options.closing, "after the work; usual: the opening check");
    command->add_option("--order", options.order, "folder of an order that keeps a copy of the record");
    command->add_option("--ledger", options.ledger, "the ledger's file: the record is kept there too")
        ->envname("EBBTIDE_LEDGER");
    auto* heard =
        command->add_option("--listen", options.source,
                            "a bench that keeps its own controls: a source as of 'listen'; you mount "
                            "and charge what is asked for");
    command->add_flag("--follow", options.follow, "with --listen: read a file on as it grows")->needs(heard);
    add_live_options(*command, options.live);
    command->get_option("--simulated")->excludes(heard);
    command->get_option("--dry-run")->excludes(heard);
    command->add_flag("--json", options.live.json, "one ebbtide.bench_check/1 document");
    command->footer(
        "Example: ebbtide check examples/awning-live/bench.toml --simulated "
        "examples/awning-live/simulation.toml\n"
        "Or: ebbtide check bench.toml --listen serial:/dev/ttyUSB0 --who TO\n"
        "Ends with 0 when the check is good, 10 when it failed, 2 on bad input.");
    command->callback([&options, &code] { code = check_bench(options); });
    return command;
}

}  // namespace ebbtide::cli
