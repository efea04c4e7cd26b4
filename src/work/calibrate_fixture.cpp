#include "work/calibrate_fixture.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <utility>

#include "basis/number_text.hpp"
#include "paperwork/paperwork.hpp"
#include "sheet/standard_fall.hpp"

namespace ebbtide::work {
namespace {

using CalibratedQuantity = plan::FixtureCalibration::Quantity;

/// A value from one run, or why there is none.
struct OfRun {
    std::optional<double> value = {};
    double u = 0;
    std::string reason;
};

OfRun induced_by(const decay::Figures& figures) {
    if (!figures.accepted_fraction || !figures.electrode_V)
        return {{}, 0, "the clamps' voltage was not recorded"};
    if (*figures.accepted_fraction < 0 || *figures.accepted_fraction >= 1)
        return {{}, 0, "the reading is not a part of the clamps' voltage"};
    if (figures.remaining_fraction && std::abs(*figures.remaining_fraction) > 0.1)
        return {{}, 0, "the reading stays after the release: something in the fixture holds charge"};
    return {figures.accepted_fraction, figures.u_initial_voltage_V / std::abs(*figures.electrode_V), ""};
}

OfRun capacitance_by(const InferredRun& run, const ReferenceSheet& reference) {
    const sheet::Estimate& product = run.resistance_capacitance_s_m2;
    if (run.inversion.state != sheet::InversionState::determined || !product.value)
        return {{}, 0, run.inversion.reason.empty() ? "the fall gave no value" : run.inversion.reason};
    const double value = *product.value / reference.resistivity_ohm_sq;
    const double u_relative = std::log(*product.high / *product.low) / (2 * 1.96);
    return {value, value * u_relative, ""};
}

OfRun stray_by(const MeasuredRun& measured, const decay::RunTrace& run, const plan::Bench& bench,
               const CheckStandard& standard) {
    const fit::CurveStore curve = decay::fall_of(run, measured.figures, bench);
    const sheet::StandardFall fall = sheet::standard_fall(seen_fall(curve, run, measured.figures, bench, {}));
    if (!fall.reason.empty()) return {{}, 0, fall.reason};
    const double total_F = fall.time_constant_s / standard.resistance_ohm;
    if (!(total_F > standard.capacitance_F))
        return {{}, 0, "the decay is faster than R and C alone: they are not what was stated"};
    return {total_F - standard.capacitance_F, total_F * fall.u_relative, ""};
}

/// Mean, and its standard uncertainty: scatter between the runs, or that of the single ones where it is
/// larger.
std::pair<double, double> mean_and_error(const std::vector<std::pair<double, double>>& values) {
    const auto count = static_cast<double>(values.size());
    double mean = 0, square = 0, own = 0;
    for (const auto& [value, u] : values) {
        mean += value / count;
        own += u * u / (count * count);
    }
    for (const auto& [value, u] : values) square += std::pow(value - mean, 2);
    const double scatter = values.size() > 1 ? square / (count - 1) / count : 0;
    return {mean, std::sqrt(std::max(scatter, own))};
}

std::string by_text(const CalibrationRequest& request) {
    if (const auto* sheet = std::get_if<ReferenceSheet>(&request.known))
        return fmt::format("{}, {} ohm", sheet->name.empty() ? "reference sheet" : sheet->name,
                           significant_text(sheet->resistivity_ohm_sq, 3));
    if (const auto* standard = std::get_if<CheckStandard>(&request.known))
        return fmt::format(
            "{}, {} ohm and {} F", standard->name.empty() ? "RC check standard" : standard->name,
            significant_text(standard->resistance_ohm, 3), significant_text(standard->capacitance_F, 3));
    return "empty fixture";
}

std::optional<Error> problem_of(const CalibrationRequest& request) {
    const auto bad = [](std::string what, std::string where, std::string remedy) {
        return Error{Fault::bad_input, std::move(what), std::move(where), std::move(remedy)};
    };
    if (!request.measure.bench)
        return bad("a calibration belongs to a fixture", "--bench", "Name the bench file");
    const plan::Fixture& fixture = request.measure.bench->fixture;
    if (!fixture.clamp_gap_mm || !fixture.sensor_distance_mm)
        return bad(
            "a calibration holds for one gap and one sensor distance, and the bench does not state both",
            "bench [fixture]", "State clamp_gap_mm and sensor_distance_mm");
    const auto in = [](double value, double least, double most) { return value >= least && value <= most; };
    if (const auto* sheet = std::get_if<ReferenceSheet>(&request.known)) {
        if (!in(sheet->resistivity_ohm_sq, 1, 1e20))
            return bad(
                fmt::format("a surface resistivity lies in 1 to 1e20 ohm; got {}", sheet->resistivity_ohm_sq),
                "--reference-resistivity", "It counts in ohm, such as 1e11");
        if (!in(sheet->u_relative, 0, 1))
            return bad("the reference's relative uncertainty lies in 0 to 1", "--u-reference",
                       "Say 0.03 for 3 %");
    }
    if (const auto* standard = std::get_if<CheckStandard>(&request.known)) {
        if (!in(standard->resistance_ohm, 1, 1e20) || !in(standard->capacitance_F, 1e-15, 1))
            return bad("R lies in 1 to 1e20 ohm and C in 1e-15 to 1 F", "--check-standard",
                       "Say 1e9,100e-12");
        if (!in(standard->u_relative, 0, 1))
            return bad("the standard's relative uncertainty lies in 0 to 1", "--u-reference",
                       "Say 0.01 for 1 %");
        if (standard->plate_m2 && !in(*standard->plate_m2, 1e-8, 10))
            return bad("the plate's area is out of range", "--plate-area-mm2",
                       "It counts in square millimetres");
    }
    return {};
}

}  // namespace

Result<FixtureCalibrator> FixtureCalibrator::of(CalibrationRequest request) {
    if (auto problem = problem_of(request)) return *std::move(problem);
    if (std::holds_alternative<EmptyFixture>(request.known)) {
        // What is to be found must not judge the run.
        request.measure.bench->fixture.induced_fraction_positive.reset();
        request.measure.bench->fixture.induced_fraction_negative.reset();
    }
    FixtureCalibrator out;
    if (std::holds_alternative<ReferenceSheet>(request.known)) {
        out.infer_.measure = request.measure;
        auto model = infer_model(out.infer_);
        if (!model) return model.error();
        out.model_ = *std::move(model);
    }
    out.request_ = std::move(request);
    return out;
}

Result<Done> FixtureCalibrator::add(const std::string& file, recording::Source& source) {
    const auto note = [&](const std::string& run_id, const decay::Figures& figures, const OfRun& of) {
        runs_.push_back({file, run_id, figures.polarity, of.value, figures.prompt_drop, of.reason});
        if (of.value) measured_.push_back({figures.polarity, *of.value, of.u});
    };
    if (const auto* reference = std::get_if<ReferenceSheet>(&request_.known)) {
        const auto inferred = infer(source, infer_, *model_);
        if (!inferred) return inferred.error();
        for (const InferredRun& run : inferred->runs)
            note(run.run_id, run.figures, capacitance_by(run, *reference));
        return Done{};
    }
    const auto* standard = std::get_if<CheckStandard>(&request_.known);
    const auto measured =
        measure(source, request_.measure, [&](const MeasuredRun& run, const decay::RunTrace& trace) {
            note(run.run_id, run.figures,
                 standard ? stray_by(run, trace, *request_.measure.bench, *standard)
                          : induced_by(run.figures));
        });
    if (!measured) return measured.error();
    return Done{};
}

Result<FixtureCalibrated> FixtureCalibrator::result() const {
    FixtureCalibrated out;
    out.runs = runs_;
    const plan::Fixture& fixture = request_.measure.bench->fixture;
    const auto enter = [&](CalibratedQuantity quantity, double value, double u) {
        plan::FixtureCalibration one;
        one.quantity = quantity;
        one.value = value;
        one.u = u;
        one.done = request_.done;
        one.by = by_text(request_);
        one.clamp_gap_mm = *fixture.clamp_gap_mm;
        one.sensor_distance_mm = *fixture.sensor_distance_mm;
        one.relative_humidity_percent = request_.relative_humidity_percent;
        one.temperature_C = request_.temperature_C;
        out.found.push_back(std::move(one));
    };
    const auto values = [&](std::optional<plan::Polarity> polarity) {
        std::vector<std::pair<double, double>> some;
        for (const Measured& one : measured_)
            if (!polarity || one.polarity == *polarity) some.emplace_back(one.value, one.u);
        return some;
    };
    if (measured_.empty())
        return Error{Fault::bad_input, "no run gave a value to calibrate by",
                     runs_.empty() ? "calibrate-fixture" : runs_.front().file,
                     runs_.empty() ? "Name recordings with a charge and a release" : runs_.front().reason};
    if (std::holds_alternative<EmptyFixture>(request_.known)) {
        for (const auto& [polarity, quantity] :
             {std::pair{plan::Polarity::positive, CalibratedQuantity::induced_fraction_positive},
              std::pair{plan::Polarity::negative, CalibratedQuantity::induced_fraction_negative}})
            if (const auto some = values(polarity); !some.empty()) {
                const auto [mean, u] = mean_and_error(some);
                const double gain = std::hypot(request_.measure.bench->sensor.scale.u_gain,
                                               request_.measure.bench->electrode.u_gain);
                enter(quantity, mean, std::hypot(u, mean * gain));
            }
        return out;
    }
    const auto [mean, u] = mean_and_error(values({}));
    if (const auto* reference = std::get_if<ReferenceSheet>(&request_.known)) {
        enter(CalibratedQuantity::capacitance, mean, std::hypot(u, mean * reference->u_relative));
        return out;
    }
    const CheckStandard& standard = std::get<CheckStandard>(request_.known);
    const double u_stray = std::hypot(u, (mean + standard.capacitance_F) * standard.u_relative,
                                      standard.capacitance_F * standard.u_relative);
    enter(CalibratedQuantity::stray_capacitance, mean, u_stray);
    if (standard.plate_m2)
        enter(CalibratedQuantity::capacitance, mean / *standard.plate_m2, u_stray / *standard.plate_m2);
    return out;
}

std::string toml_of(const std::vector<plan::FixtureCalibration>& calibrations) {
    std::string out;
    for (const plan::FixtureCalibration& one : calibrations) {
        std::string by;  // as a basic string of TOML
        for (const char c : one.by) {
            if (c == '"' || c == '\\') by += '\\';
            by += c;
        }
        out += fmt::format(
            "[[fixture_calibration]]\nquantity = \"{}\"\nvalue = {}\nu = {}\ndone = {}\nby = \"{}\"\n"
            "clamp_gap_mm = {}\nsensor_distance_mm = {}\n",
            name_of(one.quantity), shortest_text(one.value), shortest_text(one.u), iso_text(one.done), by,
            shortest_text(one.clamp_gap_mm), shortest_text(one.sensor_distance_mm));
        if (one.relative_humidity_percent)
            out += fmt::format("relative_humidity_percent = {}\n",
                               shortest_text(*one.relative_humidity_percent));
        if (one.temperature_C) out += fmt::format("temperature_C = {}\n", shortest_text(*one.temperature_C));
        out += "\n";
    }
    return out;
}

Result<std::string> with_calibrations(const std::string& bench_toml, const std::string& revision,
                                      const std::vector<plan::FixtureCalibration>& calibrations) {
    const auto not_found = [](std::string what) {
        return Error{Fault::bad_input, std::move(what), "--into",
                     "Add the printed lines to the bench file by hand, and give it a new revision"};
    };
    // The top of the file ends where its first table begins.
    const std::size_t top = std::min(bench_toml.find("\n["), bench_toml.size());
    const std::size_t at = bench_toml.find("\nrevision") + 1;
    if (at == 0 || at > top) return not_found("no line of the bench file begins with its revision");
    const std::size_t end = std::min(bench_toml.find('\n', at), bench_toml.size());
    std::string out =
        bench_toml.substr(0, at) + fmt::format("revision = \"{}\"", revision) + bench_toml.substr(end);
    if (!out.ends_with('\n')) out += '\n';
    out += "\n" + toml_of(calibrations);
    const auto read = paperwork::parse_bench(out, "the new bench file");
    if (!read) return not_found(read.error().what);
    if (read->revision != revision) return not_found("the bench file's revision cannot be replaced");
    return out;
}

}  // namespace ebbtide::work
