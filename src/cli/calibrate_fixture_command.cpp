#include <fmt/format.h>

#include <filesystem>

#include "basis/number_text.hpp"
#include "cli/clock.hpp"
#include "cli/recordings.hpp"
#include "cli/report_file.hpp"
#include "work/calibrate_fixture.hpp"
#include "work/order_files.hpp"

namespace ebbtide::cli {
namespace {

Error bad(std::string what, std::string where, std::string remedy) {
    return {Fault::bad_input, std::move(what), std::move(where), std::move(remedy)};
}

Result<std::variant<work::EmptyFixture, work::ReferenceSheet, work::CheckStandard>> known_of(
    const CalibrateFixtureOptions& options) {
    using Known = std::variant<work::EmptyFixture, work::ReferenceSheet, work::CheckStandard>;
    const int asked = (options.empty ? 1 : 0) + (options.reference_resistivity_ohm_sq ? 1 : 0) +
                      (options.check_standard.empty() ? 0 : 1);
    if (asked != 1)
        return bad("say once what was in the fixture", "calibrate-fixture",
                   "One of --empty, --reference-resistivity OHM, --check-standard OHM,FARAD");
    if (options.empty) return Known(work::EmptyFixture{});
    if (!options.u_reference)
        return bad("the uncertainty of what is known is not stated: absent would read as perfect",
                   "--u-reference", "Give it relative, one standard deviation: 0.03 for 3 %");
    if (options.reference_resistivity_ohm_sq)
        return Known(
            work::ReferenceSheet{*options.reference_resistivity_ohm_sq, *options.u_reference, options.name});
    if (options.check_standard.size() != 2)
        return bad("a check standard is a resistance and a capacitance", "--check-standard",
                   "Say 1e9,100e-12");
    work::CheckStandard standard{
        options.check_standard[0], options.check_standard[1], *options.u_reference, {}, options.name};
    if (options.plate_area_mm2) standard.plate_m2 = *options.plate_area_mm2 * 1e-6;
    return Known(std::move(standard));
}

void print_runs(const work::FixtureCalibrated& calibrated) {
    for (const work::CalibrationRun& run : calibrated.runs) {
        std::string line =
            fmt::format("{} run {} {}", run.file, run.run_id.substr(0, 8), plan::sign_of(run.polarity));
        if (run.value) line += "  " + significant_text(*run.value, 4);
        if (run.prompt_drop) line += "  prompt drop " + fixed_text(*run.prompt_drop, 3);
        if (!run.reason.empty()) line += "  none: " + run.reason;
        fmt::print("# {}\n", line);
    }
}

}  // namespace

int calibrate_fixture(const CalibrateFixtureOptions& options) {
    recording::ReadOptions read = options.read;
    auto measured = measure_request({}, options.bench_file, read);
    if (!measured) return complain(measured.error());
    auto known = known_of(options);
    if (!known) return complain(known.error());
    work::CalibrationRequest request{
        *std::move(measured), *std::move(known), {}, options.humidity_percent, options.temperature_C};
    if ((request.relative_humidity_percent &&
         !(*request.relative_humidity_percent >= 0 && *request.relative_humidity_percent <= 100)) ||
        (request.temperature_C && !(*request.temperature_C >= -100 && *request.temperature_C <= 300)))
        return complain(bad("conditions lie in 0 to 100 % and -100 to 300 degrees Celsius",
                            "calibrate-fixture", "Check --humidity and --temperature"));
    const auto done =
        options.date.empty() ? Result<Date>(date_of(time_of_making())) : parse_date(options.date);
    if (!done) return complain(done.error());
    request.done = *done;
    if (options.into.empty() != options.revision.empty())
        return complain(bad("a new bench file needs a new revision, and a revision a file", "--into",
                            "Give --into bench-new.toml --revision 6"));
    std::error_code none;
    if (!options.into.empty() && std::filesystem::exists(std::filesystem::symlink_status(options.into, none)))
        return complain(bad("is there already, and a bench file is not written over", options.into,
                            "Name a file that is not there yet"));

    auto calibrator = work::FixtureCalibrator::of(std::move(request));
    if (!calibrator) return complain(calibrator.error());
    for (const NamedFile& file : files_named(options.files)) {
        if (file.wrong) return complain(*file.wrong);
        auto source = recording::open(file.name, read);
        if (!source) return complain(source.error());
        if (const auto added = calibrator->add(file.name, **source); !added) return complain(added.error());
    }
    const auto calibrated = calibrator->result();
    if (!calibrated) return complain(calibrated.error());
    print_runs(*calibrated);
    fmt::print("{}", work::toml_of(calibrated->found));
    if (options.into.empty()) return ok;
    const auto text = work::read_whole(options.bench_file, 4u << 20);
    if (!text) return complain(text.error());
    const auto bench = work::with_calibrations(*text, options.revision, calibrated->found);
    if (!bench) return complain(bench.error());
    if (const auto written = write_file(options.into, *bench); !written) return complain(written.error());
    tell(fmt::format("{}: written, revision {}\n", options.into, options.revision));
    return ok;
}

}  // namespace ebbtide::cli
