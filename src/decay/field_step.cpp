#include "decay/field_step.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

namespace ebbtide::decay {
namespace {

double median_of(const trace::Samples& samples) {
    std::vector<double> values(samples.value.begin(), samples.value.end());
    const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
    std::ranges::nth_element(values, middle);
    return *middle;
}

/// First sample from which on two in a row are at or over `share` of the height; size() when there is none.
std::size_t first_over(const trace::Samples& samples, double base, double height, double share) {
    const auto over = [&](std::size_t i) { return (samples.value[i] - base) / height >= share; };
    for (std::size_t i = 0; i + 1 < samples.size(); ++i)
        if (over(i) && over(i + 1)) return i;
    return samples.size();
}

std::optional<Release> step_in(const trace::Samples& samples, double base, double height) {
    const std::size_t half = first_over(samples, base, height, 0.5);
    if (half == 0 || half >= samples.size()) return {};
    const double interval_s = samples.time_s[half] - samples.time_s[half - 1];
    const double below = (samples.value[half - 1] - base) / height,
                 above = (samples.value[half] - base) / height;
    const double share = above > below ? std::clamp((0.5 - below) / (above - below), 0.0, 1.0) : 0.5;
    Release step;
    step.source = ReleaseSource::field_step;
    step.time_s = samples.time_s[half - 1] + share * interval_s;
    step.u_s = interval_s / std::sqrt(12.0);
    std::size_t tenth = half;
    while (tenth > 0 && (samples.value[tenth] - base) / height > 0.1) --tenth;
    const std::size_t arrived = std::min(first_over(samples, base, height, 0.9), samples.size() - 1);
    // A step within one interval is as sharp as the record can show.
    const double rise_s = samples.time_s[arrived] - samples.time_s[tenth] - interval_s;
    if (rise_s > 0.5 * interval_s) step.delay_s = 0.5 * rise_s;
    return step;
}

trace::Samples before_charge(const RunTrace& run, const RunPhases& phases, const trace::Samples& field) {
    return field.between(run.specimen.time_s.front(), phases.lead_end_s);
}

}  // namespace

std::optional<double> field_height_V(const RunTrace& run, const RunPhases& phases,
                                     const trace::Samples& field) {
    const trace::Samples before = before_charge(run, phases, field);
    const trace::Samples up =
        field.between(phases.hold_from_s, std::max(run.first_low_s, phases.hold_from_s + 4 * phases.step_s));
    if (before.size() < 2 || up.size() < 2) return {};
    const double height = median_of(up) - median_of(before);
    const auto [low, high] = std::ranges::minmax(before.value);
    // Noise is no step.
    if (!(std::abs(height) > 4 * (high - low))) return {};
    return height;
}

std::optional<Release> find_field_step(const RunTrace& run, const RunPhases& phases,
                                       const std::optional<trace::Samples>& field,
                                       const std::optional<plan::Bench>& bench) {
    if (run.starts_charged) return {};
    if (field) {
        if (const auto height = field_height_V(run, phases, *field)) {
            if (auto step = step_in(*field, median_of(before_charge(run, phases, *field)), *height)) {
                step->through_sensor = false;
                step->u_s = std::hypot(step->u_s, bench ? bench->recorder.u_channel_skew_s : 0.0);
                return step;
            }
        }
    }
    return step_in(run.specimen, run.base, run.sign * run.height);
}

std::size_t peak_of(const RunTrace& run, const RunPhases& phases, double step_s) {
    const std::size_t from = run.specimen.at_or_after(step_s);
    const std::size_t to = std::max(from + 1, run.specimen.at_or_after(run.first_low_s));
    double highest_V = -INFINITY;
    for (std::size_t i = from; i < to && i < run.specimen.size(); ++i)
        highest_V = std::max(highest_V, run.sign * run.specimen.value[i]);
    const double enough_V = highest_V - 3 * phases.noise.sample_V();
    for (std::size_t i = from; i < to && i < run.specimen.size(); ++i)
        if (run.sign * run.specimen.value[i] >= enough_V) return i;
    return from;
}

}  // namespace ebbtide::decay
