#include "work/plot_trace.hpp"

#include <algorithm>

namespace ebbtide::work {
namespace {

/// Indices of the lowest and highest sample of each of `stretches` equal stretches of time, in order.
void thin(const trace::Samples& samples, std::size_t offset, std::size_t stretches,
          std::vector<std::size_t>& kept) {
    if (samples.size() <= 2 * stretches) {
        for (std::size_t i = 0; i < samples.size(); ++i) kept.push_back(offset + i);
        return;
    }
    const double from_s = samples.time_s.front(), length_s = samples.time_s.back() - from_s;
    std::size_t first = 0;
    for (std::size_t k = 0; k < stretches && first < samples.size(); ++k) {
        const double to_s = from_s + length_s * static_cast<double>(k + 1) / static_cast<double>(stretches);
        std::size_t last = k + 1 == stretches ? samples.size() : samples.at_or_after(to_s);
        if (last <= first) continue;
        const auto part = samples.value.subspan(first, last - first);
        const auto [low, high] = std::ranges::minmax_element(part);
        const std::size_t a = first + static_cast<std::size_t>(low - part.begin());
        const std::size_t b = first + static_cast<std::size_t>(high - part.begin());
        kept.push_back(offset + std::min(a, b));
        if (a != b) kept.push_back(offset + std::max(a, b));
        first = last;
    }
}

}  // namespace

report::PlotTrace plot_trace(const decay::RunTrace& run, const decay::Figures& figures) {
    double interesting_s = 0;
    for (const decay::LevelFigure& level : figures.levels)
        if (level.status != decay::LevelStatus::extrapolated)
            interesting_s = std::max({interesting_s, level.decay_s.value_or(0), level.at_most_s.value_or(0)});
    if (interesting_s == 0) interesting_s = figures.record_s;

    const trace::Samples all = run.specimen;
    const std::size_t release = all.at_or_after(figures.release_s);
    const std::size_t near_before =
        std::min(release, all.at_or_after(figures.release_s - 0.5 * interesting_s));
    const std::size_t done = std::max(release, all.at_or_after(figures.release_s + 2 * interesting_s));
    std::vector<std::size_t> kept;
    thin(all.slice(0, near_before), 0, 60, kept);
    thin(all.slice(near_before, release), near_before, 60, kept);
    thin(all.slice(release, done), release, 400, kept);
    thin(all.slice(done, all.size()), done, 60, kept);

    report::PlotTrace plot;
    for (const std::size_t i : kept) {
        plot.time_s.push_back(all.time_s[i] - figures.release_s);
        plot.specimen_V.push_back(run.sign * (all.value[i] - figures.zero_V));
        if (!run.electrode || run.electrode->empty()) continue;
        const std::size_t beside =
            std::min(run.electrode->at_or_after(all.time_s[i]), run.electrode->size() - 1);
        plot.electrode_V.push_back(run.sign * (run.electrode->value[beside] - run.base));
    }
    return plot;
}

}  // namespace ebbtide::work
