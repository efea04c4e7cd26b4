// Options and help. Everything else is behind cli/commands.hpp.

#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <cstdio>
#include <cstdlib>
#include <exception>
#include <map>
#include <system_error>

#include "basis/version.hpp"
#include "cli/commands.hpp"
#include "cli/ledger_options.hpp"
#include "cli/live_options.hpp"
#include "cli/lot_options.hpp"
#include "cli/print.hpp"
#include "cli/sheet_options.hpp"

using namespace ebbtide;

namespace {

constexpr const char* safety =
    "Kilovolts and stored charge can hurt. This program is never the safety barrier: the\n"
    "enclosure's interlock, the bleed resistor and the earth stick are. The specimen and the\n"
    "check standard stay charged after the clamps are earthed: earth before touching.";

const Error cannot_answer{Fault::unreadable, "the answer cannot be written", "standard output",
                          "Check that the disk is not full and that what reads it is still there"};

constexpr const char* order_help =
    "folder that holds order.toml, a PDF report made from one, or with --ledger the id of an order in it";

constexpr const char* levels_help = "decay levels, comma between: 0.5,1/e,10%,500 V (usual: 0.5,1/e,0.1)";
constexpr const char* bench_help = "bench file: gain, lag, induced fraction and their uncertainties";

/// Options of judging archived recordings under other terms than the order's.
void add_terms(CLI::App& command, work::TermsRequest& terms) {
    // An unset variable of a script would otherwise give the agreed statement in the place of the other one.
    const CLI::Validator named([](const std::string& text) { return text.empty() ? "is empty" : ""; },
                               "TEXT");
    command
        .add_option("--specification", terms.specification,
                    "judge under this one instead: a file of the order, a shipped one, or a path (.toml)")
        ->check(named);
    command
        .add_option("--levels", terms.levels,
                    "ask every limit on a decay time at these levels instead, comma between: 10%,1%")
        ->check(named);
    command
        .add_option("--rule", terms.rule,
                    "decide by this rule instead: simple, guarded, guarded:0.83U, guarded:0.02s")
        ->check(named);
}

void add_keep_options(CLI::App& command, cli::KeepOptions& keep) {
    command.add_option("--ledger", keep.ledger, "the ledger's file")->envname("EBBTIDE_LEDGER");
    command.add_flag("--keep", keep.keep, "keep what comes of it in the ledger");
    command.add_option("--who", keep.who, "with --keep: your initials; needed where something is corrected");
    command.add_option("--why", keep.why, "with --keep: the reason; needed where something is corrected");
}

void add_read_options(CLI::App& command, recording::ReadOptions& read) {
    command.add_option("--specimen", read.specimen,
                       "heading or number (from 1) of the specimen voltage's column");
    command.add_option("--electrode", read.electrode, "the same for the electrode voltage");
    command.add_option("--marker", read.marker, "the same for the release marker");
    command.add_option("--time", read.time, "the same for the time");
    command.add_option("--sample-interval", read.sample_interval_s,
                       "seconds between samples, where there is no time column");
    command.add_option("--time-unit", read.time_unit,
                       "s, ms, us, ns, min or h, where the time column states none");
}

int run(int argc, char** argv) {
    CLI::App app{"Decay times, uncertainty, conformity and reports for a charge-decay bench."};
    app.require_subcommand(1);
    app.footer(safety);
    int code = cli::ok;

    cli::MeasureOptions measure;
    auto* measure_command = app.add_subcommand("measure", "Decay times of every run in recorded files");
    measure_command
        ->add_option("files", measure.files, "recordings, or folders of them; '-' is standard input")
        ->required();
    measure_command->add_option("--levels", measure.levels, levels_help);
    measure_command->add_option("--bench", measure.bench_file, bench_help);
    measure_command->add_flag("--check-standard", measure.check_standard,
                              "the runs are of the check standard in [check] of the bench file: flags a time "
                              "that is not the known one");
    add_read_options(*measure_command, measure.read);
    measure_command->add_flag("--json", measure.json, "one ebbtide.measure/1 document on standard output");
    measure_command->footer(
        "Example: ebbtide measure run1.csv run2.csv --levels 0.5,1/e,0.1 --bench bench.toml --json\n"
        "Ends with 0 when all files were read, 3 when some were refused, 2 when all were.");
    measure_command->callback([&] { code = cli::measure(measure); });

    cli::ListenOptions listen;
    auto* listen_command = cli::add_listen_command(app, listen, code);
    listen_command->add_option("--levels", listen.levels, levels_help);
    listen_command->add_option("--bench", listen.bench_file, bench_help);
    add_read_options(*listen_command, listen.read);

    cli::FitOptions fit;
    auto* fit_command =
        app.add_subcommand("fit", "Laws of decay fitted to recorded falls, or to bare curves");
    fit_command->add_option("files", fit.files, "recordings, or folders of them; '-' is standard input");
    fit_command->add_option("--xy", fit.pairs,
                            "instead: files with seconds from the release and volts, one pair a line");
    fit_command->add_option("--sigma", fit.sigma,
                            "with --xy: what the third column is, absolute (volts) or relative");
    fit_command->add_option("--law", fit.law,
                            "auto, exponential, two_exponentials, three_exponentials, stretched, power, "
                            "backed_sheet, or hanging_sheet (with --bench); usual: auto, the best by its "
                            "criterion");
    fit_command->add_option("--offset", fit.offset,
                            "where the fall ends: free, zero, amplitude (minus it) or volts; usual: zero for "
                            "recordings, whose zero is measured, free for --xy");
    fit_command->add_option("--levels", fit.levels, levels_help);
    fit_command->add_flag("--robust", fit.robust,
                          "single samples far off their neighbours lose their weight");
    fit_command->add_option("--bench", fit.bench_file, bench_help);
    add_read_options(*fit_command, fit.read);
    fit_command->add_flag("--json", fit.json, "one ebbtide.fit/1 document on standard output");
    fit_command->footer(
        "Example: ebbtide fit run1.csv --law auto --bench bench.toml --json\n"
        "Ends with 0 when all files were fitted, 3 when some were refused, 2 when all were.");
    fit_command->callback([&] { code = cli::fit(fit); });

    cli::InferOptions infer;
    add_read_options(*cli::add_infer_command(app, infer, code), infer.read);
    cli::PredictOptions predict;
    cli::add_predict_command(app, predict, code);
    cli::CalibrateFixtureOptions calibrate;
    add_read_options(*cli::add_calibrate_fixture_command(app, calibrate, code), calibrate.read);

    cli::LotOptions lot;
    cli::LotHistoryOptions lot_history;
    auto* lot_command = app.add_subcommand(
        "lot", "What tested specimens say of the lot they were taken from, and how surely");
    lot_command->add_option("orders", lot.orders,
                            "folders that hold order.toml, or PDF reports made from one");
    lot_command->add_option("--times", lot.times,
                            "instead: a table with the columns decay_s and status (docs/formats/lot.md)");
    lot_command->add_option("--limit", lot.limit_s, "with --times: seconds that a time must not exceed");
    lot_command->add_option("--share", lot.share, "share of the lot that is to be within the limit")
        ->capture_default_str();
    lot_command->add_option("--confidence", lot.confidence, "how sure of it")->capture_default_str();
    lot_command
        ->add_option("--alike-within", lot.alike_within,
                     "factor between faces, directions, polarities that makes no difference")
        ->capture_default_str();
    lot_command->add_option(
        "--history", lot_history.times,
        "times of earlier lots: a table with the columns lot and decay_s; the risks of the "
        "claim are then reckoned with what lots of the material there are");
    lot_command->add_option("--history-ledger", lot_history.ledger,
                            "instead: a ledger, whose months stand for earlier lots");
    lot_command->add_option("--material", lot_history.material,
                            "with --history-ledger: part of the material's name (usual: the orders')");
    lot_command->add_option(
        "--level", lot_history.level,
        "with --history-ledger: the decay level (usual: that of the orders' requirements)");
    lot_command
        ->add_option(
            "--stated-history", lot_history.stated,
            "instead: typical time in seconds, factor by which lots scatter, factor by which specimens "
            "of a lot do (exp of the standard deviation of ln t): 0.3 1.1 1.2")
        ->expected(3);
    lot_command->add_option("-o,--output", lot.output, "lot.pdf or lot.html, with a probability plot");
    lot_command->add_flag("--json", lot.json, "one ebbtide.lot/1 document on standard output");
    lot_command->footer("Example: ebbtide lot --times times.csv --limit 0.5");
    lot_command->callback([&] { code = cli::lot(lot, lot_history); });

    cli::CompareOptions compare;
    auto* compare_command = app.add_subcommand(
        "compare",
        "Whether materials, lots, suppliers or states differ, are as good as alike, or change with time");
    compare_command
        ->add_option("sources", compare.sources,
                     "two or more: folders of orders, PDF reports made from them, tables of times "
                     "(docs/formats/compare.md)")
        ->required();
    compare_command->add_option(
        "--by", compare.by,
        "what tells groups apart: source, group, material, lot, supplier, customer, item, "
        "state, date, month, year, direction, face, polarity, conditions; or several, comma between (usual: "
        "source)");
    compare_command->add_option("--level", compare.level,
                                "of orders: the decay level compared (usual: that of their requirements)");
    compare_command
        ->add_option("--alike-within", compare.alike_within,
                     "groups whose typical times differ by less than this factor are as good as alike")
        ->capture_default_str();
    compare_command->add_option("-o,--output", compare.output, "compare.pdf or compare.html, with a plot");
    compare_command->add_flag("--json", compare.json, "one ebbtide.compare/1 document on standard output");
    compare_command->footer("Example: ebbtide compare examples/halyard-cloth --by direction");
    compare_command->callback([&] { code = cli::compare(compare); });

    cli::PlanOptions plan;
    auto* plan_command =
        app.add_subcommand("plan", "How many specimens of a lot to test, and what that tells");
    plan_command->add_option("--beyond", plan.beyond, "share of the lot believed to be over the limit");
    plan_command->add_option("--share", plan.share, "share of the lot that is to be shown within the limit")
        ->capture_default_str();
    plan_command->add_option("--confidence", plan.confidence, "how sure of it")->capture_default_str();
    plan_command->add_option("--power", plan.power, "chance with which it is to be shown")
        ->capture_default_str();
    plan_command->add_option("--specimens", plan.specimens, "so many can be had: what would they show?");
    plan_command->add_option("--good", plan.good, "share over the limit of a lot to be accepted")
        ->capture_default_str();
    plan_command->add_option("--accept", plan.accept, "at least with this probability")
        ->capture_default_str();
    plan_command->add_option("--poor", plan.poor, "share over the limit of a lot to be rejected")
        ->capture_default_str();
    plan_command->add_option("--wrong", plan.wrong, "accepted at most with this probability")
        ->capture_default_str();
    plan_command->add_option("-o,--output", plan.output, "plan.pdf or plan.html, with the curves");
    plan_command->add_flag("--json", plan.json, "one ebbtide.plan/1 document on standard output");
    plan_command->footer("Example: ebbtide plan --beyond 0.02");
    plan_command->callback([&] { code = cli::plan(plan); });

    cli::JudgeOptions judge;
    auto* judge_command = app.add_subcommand("judge", "Statement of conformity of an order");
    judge_command->add_option("order", judge.order, order_help)->required();
    add_terms(*judge_command, judge.terms);
    add_keep_options(*judge_command, judge.keep);
    judge_command->add_flag(
        "--json", judge.json,
        "one ebbtide.judge/1 document on standard output, ebbtide.rejudge/1 under other terms");
    judge_command->footer(
        "Example: ebbtide judge examples/halyard-cloth\n"
        "Under other terms both statements and what differs are shown; the exit code is the new one's.\n"
        "Ends with 0 pass, 10 fail, 11 conditional, 12 void, 2 bad input.");
    judge_command->callback([&] { code = cli::judge(judge); });

    cli::ReportOptions report;
    auto* report_command =
        app.add_subcommand("report", "Report of an order, as PDF (record and recordings attached) or HTML");
    report_command->add_option("order", report.order, order_help)->required();
    add_terms(*report_command, report.terms);
    add_keep_options(*report_command, report.keep);
    report_command->add_option("-o,--output", report.output, "report.pdf or report.html")->required();
    report_command->add_flag("--letter", report.letter, "Letter paper instead of A4");
    report_command->footer("Example: ebbtide report examples/halyard-cloth -o report.pdf");
    report_command->callback([&] { code = cli::report(report); });

    std::string verified;
    auto* verify_command =
        app.add_subcommand("verify", "Works a report's figures out again from what is attached to it");
    verify_command->add_option("report", verified, "a PDF written by 'ebbtide report'")->required();
    verify_command->footer(
        "Example: ebbtide verify report.pdf\nEnds with 0 when all figures agree, 20 when any differs.");
    verify_command->callback([&] { code = cli::verify(verified); });

    cli::ValidateOptions validate;
    auto* validate_command = app.add_subcommand(
        "validate", "Works out published figures on this computer and compares: is it fit for the work?");
    validate_command->add_option("-o,--output", validate.output, "report.pdf or report.html");
    validate_command
        ->add_option("--ledger", validate.ledger, "the ledger's file: the report is kept there, dated")
        ->envname("EBBTIDE_LEDGER");
    validate_command->add_option("--who", validate.who, "with --ledger: your initials");
    validate_command->add_flag("--letter", validate.letter, "Letter paper instead of A4");
    validate_command->add_flag("--json", validate.json, "every check as JSON (docs/formats/validation.md)");
    validate_command->footer(
        "Example: ebbtide validate -o validation.pdf\n"
        "Ends with 0 when all figures agree, 20 when any differs.");
    validate_command->callback([&] { code = cli::validate(validate); });

    cli::ConvertOptions convert;
    auto* convert_command = app.add_subcommand(
        "convert", "Writes a recording as a recording container or as HDF5, sample by sample the same");
    convert_command->add_option("file", convert.file, "a recording; '-' is standard input")->required();
    convert_command->add_option("-o,--output", convert.output, "a file that ends in .ebbrec or .h5")
        ->required();
    add_read_options(*convert_command, convert.read);
    convert_command->footer(
        "Example: ebbtide convert recording.csv -o recording.ebbrec\n"
        "Measured again, the new file gives the same run ids and figures.");
    convert_command->callback([&] { code = cli::convert(convert); });

    cli::SimulateOptions simulate;
    auto* simulate_command = app.add_subcommand(
        "simulate", "Recordings of a bench that is not there, faults included, and the truth of them");
    simulate_command->add_option("simulation", simulate.simulation, "a file of docs/formats/simulation.md")
        ->required();
    simulate_command
        ->add_option("-o,--output", simulate.output,
                     "a folder, or for one recording a file that ends in .csv, .ebbrec or .h5")
        ->required();
    simulate_command->add_option("--recording", simulate.recording, "one of the simulation's, by its file");
    simulate_command->add_option("--seed", simulate.seed, "another than the simulation's");
    simulate_command->footer(
        "Example: ebbtide simulate examples/halyard-cloth/simulation.toml --recording W1.csv -o trace.csv\n"
        "The truth lies beside what was written: trace.truth.json.");
    simulate_command->callback([&] { code = cli::simulate(simulate); });

    cli::DriveOptions drive;
    cli::add_drive_command(app, drive, code);
    cli::CheckOptions check;
    add_read_options(*cli::add_check_command(app, check, code), check.read);

    cli::ServeOptions serve;
    auto* serve_command = app.add_subcommand(
        "serve", "The page: bench, orders and traces in a browser on this computer; prints its address");
    serve_command->add_option("folder", serve.folder, "holds the orders' folders; usual: this one");
    serve_command->add_option("--ledger", serve.ledger, "the ledger's file");
    serve_command->add_option("--port", serve.port, "usual: one that is free");
    serve_command->add_option("--address", serve.address, "127.0.0.1 (usual) or ::1; no other yet");
    serve_command->add_option("--simulated", serve.simulated,
                              "a simulated bench: a file of docs/formats/simulation.md");
    serve_command->add_option(
        "--pace", serve.pace,
        "of the simulated bench: real (usual), fast, or how many times as fast as a real one");
    serve_command->add_option("--seed", serve.seed, "of the simulated bench");
    serve_command->add_option("--who", serve.who, "initials of the person at the page");
    serve_command->footer(
        "Example: ebbtide serve examples --simulated examples/awning-live/simulation.toml\n"
        "The address is a key: whoever has it can do what you can do. Closing the page stops nothing; "
        "Ctrl-C\n"
        "here switches off and earths what is live, and ends the server.");
    serve_command->callback([&] { code = cli::serve(serve); });

    cli::LedgerOptions ledger;
    cli::add_ledger_commands(app, ledger, code);

    std::string demo_folder = EBBTIDE_DEMO_ORDER, demo_output = "build/demo-report.pdf";
    auto* demo_command = app.add_subcommand("demo", "Judges the example order and writes its report");
    demo_command->add_option("--order", demo_folder, "another order's folder");
    demo_command->add_option("-o,--output", demo_output, "where the report goes")->capture_default_str();
    demo_command->footer("Example: ebbtide demo -o demo.pdf");
    demo_command->callback([&] { code = cli::demo(demo_folder, demo_output); });

    std::string shipped;
    auto* methods_command =
        app.add_subcommand("methods", "Lists the shipped methods and specifications, or prints one");
    methods_command->add_option("name", shipped, "print this one's file");
    methods_command->footer("Example: ebbtide methods sheet-goods-house-method > my-method.toml");
    methods_command->callback([&] { code = cli::methods(shipped); });

    auto* version_command = app.add_subcommand("version", "Prints the version");
    version_command->footer("Example: ebbtide version");
    version_command->callback([&] { fmt::print("ebbtide {}\n", version_text); });

    try {
        app.parse(argc, argv);
    } catch (const CLI::ParseError& error) {
        const int parsed = app.exit(error);
        return parsed == 0 ? cli::ok : cli::bad_input;
    }
    return code;
}

}  // namespace

int main(int argc, char** argv) {
    try {
        const int code = run(argc, argv);
        // What waits in the buffer may still meet a full disk: an answer that was lost is no success.
        return std::fflush(stdout) == 0 && std::ferror(stdout) == 0 ? code : cli::complain(cannot_answer);
    } catch (const std::system_error&) {  // fmt::print on standard output
        return cli::complain(cannot_answer);
    } catch (const std::exception& error) {
        cli::tell(fmt::format(
            "ebbtide: a fault of the program: {}\nPlease report it with the file that caused it.\n",
            error.what()));
        return cli::internal;
    }
}
