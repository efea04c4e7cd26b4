#include "work/reference_runs.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "judge/run_flags.hpp"

namespace ebbtide::work {
namespace {

bool plans_one(const plan::PlannedRecording& planned) {
    return std::ranges::any_of(planned.runs, &plan::PlannedRun::of_empty_fixture);
}

bool usable(const MeasuredRun& measured, const plan::PlannedRun& planned, const plan::Order& order,
            const plan::Method& method, const std::optional<plan::Bench>& bench) {
    if (!planned.set_aside.empty() || !measured.figures.initial_voltage_V) return false;
    std::vector<plan::Flag> flags = reference_flags(measured.figures, planned.key, order, method, bench);
    flags.insert(flags.end(), measured.flags.begin(), measured.flags.end());
    judge::apply_consequences(flags, method);
    return std::ranges::none_of(flags, [](const plan::Flag& flag) {
        return flag.consequence == plan::Consequence::void_run ||
               flag.consequence == plan::Consequence::fail_specimen;
    });
}

}  // namespace

Result<ReferenceLevels> reference_levels(const plan::Order& order, const plan::Method& method,
                                         const std::optional<plan::Bench>& bench, const OpenRecording& open) {
    std::map<std::pair<plan::Polarity, std::string>, std::vector<decay::ReferenceLevel>> seen;
    for (const plan::PlannedRecording& planned : order.recordings) {
        if (!plans_one(planned)) continue;
        if (!method.reference_run) {
            // Heard live, it is one of a bench check.
            if (planned.runs.front().reference) continue;
            return Error{
                Fault::bad_input,
                fmt::format("{} is planned as a run without specimen, and the method {} takes its initial "
                            "voltage from none",
                            planned.file, method.id),
                fmt::format("order.toml:{}", planned.line),
                "Take the run out, or cite the method that asks for it"};
        }
        auto source = open(planned);
        if (!source) return source.error();
        MeasureRequest request{method.decay, bench};
        request.places = places_of(planned, method, {});
        const auto file = measure(**source, request);
        if (!file) return file.error();
        for (std::size_t i = 0; i < std::min(planned.runs.size(), file->runs.size()); ++i) {
            const plan::PlannedRun& run = planned.runs[i];
            if (!run.of_empty_fixture() || !usable(file->runs[i], run, order, method, bench)) continue;
            const decay::Figures& figures = file->runs[i].figures;
            seen[{run.key.polarity, run.key.conditions}].push_back(
                {*figures.initial_voltage_V, std::hypot(figures.u_initial_voltage_V, figures.u_zero_V)});
        }
    }
    ReferenceLevels levels;
    for (const auto& [key, ones] : seen) {
        decay::ReferenceLevel& mean = levels[key];
        const double n = static_cast<double>(ones.size());
        for (const decay::ReferenceLevel& one : ones) {
            mean.V += one.V / n;
            mean.u_V = std::hypot(mean.u_V, one.u_V / n);
        }
    }
    return levels;
}

std::optional<plan::Mounted> checked_in(const plan::PlannedRecording& planned, const plan::Method& method) {
    if (planned.runs.empty()) return {};
    const plan::PlannedRun& run = planned.runs.front();
    return run.of_empty_fixture() && method.reference_run ? std::nullopt : run.reference;
}

std::vector<RunPlace> places_of(const plan::PlannedRecording& planned, const plan::Method& method,
                                const ReferenceLevels& levels) {
    std::vector<RunPlace> places;
    if (!method.reference_run) return places;
    for (const plan::PlannedRun& run : planned.runs) {
        RunPlace place;
        place.without_specimen = run.of_empty_fixture();
        const auto level = levels.find({run.key.polarity, run.key.conditions});
        if (level != levels.end()) place.reference = level->second;
        places.push_back(place);
    }
    return places;
}

std::vector<plan::Flag> reference_flags(const decay::Figures& figures, const plan::RunKey& key,
                                        const plan::Order& order, const plan::Method& method,
                                        const std::optional<plan::Bench>& bench) {
    plan::Method asked = method;
    // Nothing is held or charged, but the field must be the one that the specimens see.
    asked.charging = {};
    asked.charging.voltage_V = method.charging.voltage_V;
    asked.decay = {};
    return judge::method_flags(figures, key, order, asked, bench);
}

}  // namespace ebbtide::work
