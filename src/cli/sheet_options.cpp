#include "cli/sheet_options.hpp"

#include <CLI/CLI.hpp>

namespace ebbtide::cli {
namespace {

constexpr const char* sheet_bench_help = "bench file: gap, sensor distance, enclosure, lag, calibrations";
constexpr const char* recordings_help = "recordings, or folders of them; '-' is standard input";
constexpr const char* backing_help =
    "a sheet close to an earthed surface, of this capacitance in F/m2, instead of the fixture's";
constexpr const char* backed_help = "take the sheet for a backed one, whatever lengths the bench states";

}  // namespace

CLI::App* add_infer_command(CLI::App& app, InferOptions& options, int& code) {
    CLI::App* command =
        app.add_subcommand("infer", "Surface resistivity of the material behind recorded falls");
    command->add_option("files", options.files, recordings_help)->required();
    command->add_option("--bench", options.bench_file, sheet_bench_help)->required();
    command->add_option("--backing-capacitance", options.backing_capacitance_F_m2, backing_help);
    command->add_flag("--backed", options.backed, backed_help);
    command->add_flag("--contact", options.contact, "seek the resistance of the clamps' contacts too");
    command->add_flag("--field", options.field, "seek how the resistivity depends on the field too");
    command->add_option("--ring-resistance", options.ring_resistance_ohm,
                        "compare with this resistance in ohm, measured between concentric rings");
    command
        ->add_option("--ring-diameters", options.ring_diameters_mm,
                     "of the disc and of the ring's inner edge, mm: 30.5,57.2")
        ->delimiter(',')
        ->expected(1, 2);
    command->add_option("--u-ring", options.u_ring, "relative uncertainty of that resistance: 0.1");
    command->add_flag("--json", options.json, "one ebbtide.infer/1 document on standard output");
    command->footer(
        "Example: ebbtide infer recording.csv --bench bench.toml --json\n"
        "Ends with 0 when all files were read, 3 when some were refused, 2 when all were.");
    command->callback([&options, &code] { code = infer(options); });
    return command;
}

CLI::App* add_predict_command(CLI::App& app, PredictOptions& options, int& code) {
    CLI::App* command = app.add_subcommand(
        "predict", "Decay times of a surface resistivity, or the resistivity for a decay time");
    command->add_option("--bench", options.bench_file, sheet_bench_help)->required();
    command->add_option("--surface-resistivity", options.resistivity_ohm_sq, "ohm: 1e11");
    command->add_option("--decay-time", options.decay_s,
                        "instead: seconds to the first level; asks for the resistivity");
    command->add_option("--level,--levels", options.levels, "shares of the initial voltage, comma between")
        ->capture_default_str();
    command->add_option("--sweep", options.sweep,
                        "1e9:1e13 (resistivity, ohm), gap=50:100, sensor=10:40 or enclosure=30:100 (mm)");
    command->add_option("--meets", options.meets_s, "limit in seconds on the time to the first level");
    command->add_option("--backing-capacitance", options.backing_capacitance_F_m2, backing_help);
    command->add_flag("--backed", options.backed, backed_help);
    command->add_option("--contact", options.contact_ohm_m,
                        "resistance times width between each clamp and the sheet, ohm m: 1e9");
    command->add_option("--map", options.map_file,
                        "instead of a resistivity: a sheet with patches or threads, on a backing");
    command->add_option("-o,--output", options.output, "picture of the sweep: .svg, .png or .pdf");
    command->add_flag("--json", options.json, "one ebbtide.predict/1 document on standard output");
    command->footer("Example: ebbtide predict --decay-time 0.5 --level 10% --bench bench.toml");
    command->callback([&options, &code] { code = predict(options); });
    return command;
}

CLI::App* add_calibrate_fixture_command(CLI::App& app, CalibrateFixtureOptions& options, int& code) {
    CLI::App* command = app.add_subcommand(
        "calibrate-fixture", "Induced fraction or capacitance of a fixture, as lines for its bench file");
    command->add_option("files", options.files, recordings_help)->required();
    command->add_option("--bench", options.bench_file, sheet_bench_help)->required();
    command->add_flag("--empty", options.empty, "nothing was in the fixture: its induced fraction");
    command->add_option("--reference-resistivity", options.reference_resistivity_ohm_sq,
                        "a sheet of this surface resistivity in ohm was: the effective capacitance");
    command
        ->add_option("--check-standard", options.check_standard,
                     "the RC check standard was, ohm and farad: 1e9,100e-12")
        ->delimiter(',')
        ->expected(1, 2);
    command->add_option("--plate-area-mm2", options.plate_area_mm2,
                        "of the check standard's plate: gives a capacitance for each area too");
    command->add_option("--u-reference", options.u_reference,
                        "relative standard uncertainty of what is known: 0.03");
    command->add_option("--name", options.name, "of the sheet or standard");
    command->add_option("--date", options.date, "of the calibration: 2026-03-14; usual: today");
    command->add_option("--humidity", options.humidity_percent, "relative humidity, %");
    command->add_option("--temperature", options.temperature_C, "degrees Celsius");
    command->add_option("--into", options.into, "writes a new bench file with the lines added");
    command->add_option("--revision", options.revision, "of that file");
    command->footer(
        "Example: ebbtide calibrate-fixture recording.csv --bench bench.toml --reference-resistivity 1e11 "
        "--u-reference 0.03\n"
        "Prints the lines; no file of yours is changed.");
    command->callback([&options, &code] { code = calibrate_fixture(options); });
    return command;
}

}  // namespace ebbtide::cli
