#include "work/fit_runs.hpp"

#include <algorithm>
#include <utility>

namespace ebbtide::work {

std::optional<Error> problem_of(const decay::LawQuestion& question, const std::optional<plan::Bench>& bench) {
    if (std::ranges::find(question.kinds, decay::LawKind::hanging_sheet) == question.kinds.end()) return {};
    const std::string remedy =
        "State clamp_gap_mm, sensor_distance_mm and enclosure_behind_mm under [fixture] of a bench file, and "
        "name that with --bench";
    if (!bench)
        return Error{Fault::bad_input, "hanging_sheet needs the fixture's dimensions, and no bench is named",
                     "--law", remedy};
    const plan::Fixture& fixture = bench->fixture;
    if (!fixture.clamp_gap_mm || !fixture.sensor_distance_mm || !fixture.enclosure_behind_mm)
        return Error{Fault::bad_input,
                     "hanging_sheet needs the fixture's dimensions, and the bench does not state them all",
                     "--law", remedy};
    return {};
}

Result<FittedFile> fit_runs(recording::Source& source, MeasureRequest request) {
    if (!request.laws) request.laws.emplace();
    if (auto problem = problem_of(*request.laws, request.bench)) return *problem;
    auto measured = measure(source, request);
    if (!measured) return measured.error();
    FittedFile out;
    out.flags = std::move(measured->flags);
    for (MeasuredRun& run : measured->runs)
        out.runs.push_back({std::move(run.run_id), run.figures.polarity,
                            std::move(run.figures.law).value_or(decay::LawFigures{}), std::move(run.flags)});
    return out;
}

}  // namespace ebbtide::work
