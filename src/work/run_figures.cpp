#include "work/run_figures.hpp"

#include <cmath>

#include "judge/monte_carlo.hpp"

namespace ebbtide::work {
namespace {

/// Where the electrode stood for most of the time that it was up, with its sign.
double highest_V(const trace::Samples& electrode) {
    double top_V = 0;
    for (const double v : electrode.value)
        if (std::abs(v) > std::abs(top_V)) top_V = v;
    double sum_V = 0, count = 0;
    for (const double v : electrode.value)
        if (std::abs(v - top_V) < 0.1 * std::abs(top_V)) {
            sum_V += v;
            count += 1;
        }
    return count > 0 ? sum_V / count : top_V;
}

}  // namespace

decay::Figures figures_of_run(const decay::RunTrace& run, const RunPlace& place,
                              const MeasureRequest& request, const std::optional<decay::LawQuestion>& laws,
                              const std::string& run_id) {
    if (!place.without_specimen) {
        decay::Figures figures = decay::figures_of(run, request.rules, request.bench, place.reference);
        if (laws) decay::add_law(figures, run, request.rules, request.bench, *laws);
        if (request.monte_carlo) judge::add_monte_carlo(figures, run_id);
        return figures;
    }
    // The level that is held is asked for, on the specimen's channel, and nothing of a fall.
    decay::RunTrace held = run;
    held.electrode.reset();
    decay::Figures figures = decay::figures_of(held, {}, request.bench);
    std::erase_if(figures.flags, [](const plan::Flag& flag) {
        return flag.code == plan::FlagCode::release_unseen || flag.code == plan::FlagCode::curve_waits;
    });
    if (run.electrode) figures.electrode_V = highest_V(*run.electrode);
    return figures;
}

}  // namespace ebbtide::work
