#include "decay/release.hpp"

#include <algorithm>
#include <cmath>

#include "decay/kink.hpp"
#include "decay/plateau.hpp"

namespace ebbtide::decay {
namespace {

constexpr double hold_tolerance = 5e-4;  // of the height: the kink is sought beside what is level to the eye

trace::SampleStore oriented(const trace::Samples& samples, double base, double sign) {
    trace::SampleStore out{{samples.time_s.begin(), samples.time_s.end()}, {}};
    out.value.reserve(samples.size());
    for (const double v : samples.value) out.value.push_back(sign * (v - base));
    return out;
}

std::optional<Release> by_electrode(const RunTrace& run, const RunPhases& phases,
                                    const std::optional<plan::Bench>& bench) {
    if (!run.electrode || run.starts_charged) return {};
    const trace::SampleStore all = oriented(*run.electrode, run.base, run.sign);
    const trace::Samples electrode = all.view();
    // The first fall below half that lasts two samples: a bouncing contact falls more than once.
    std::size_t low = std::max<std::size_t>(1, electrode.at_or_after(phases.hold_from_s));
    const auto is_low = [&](std::size_t i) { return electrode.value[i] < 0.5 * run.height; };
    while (low + 1 < electrode.size() && !(is_low(low) && is_low(low + 1))) ++low;
    if (low + 1 >= electrode.size()) return {};
    const trace::Samples hold =
        electrode.between(phases.hold_from_s, std::min(phases.hold_to_s, electrode.time_s[low - 1]));
    if (hold.size() < 2) return {};

    NoiseEvidence evidence;
    evidence.levels = {electrode.between(electrode.time_s.front(), phases.lead_end_s), hold};
    const NoiseModel noise = estimate_noise(evidence);
    const Plateau plateau = steady_end(hold, run.height, hold_tolerance * run.height, noise);
    const double height_V = plateau.mean_V;
    const double limit_V = height_V - std::max(5 * noise.sample_V(), 0.01 * height_V);

    // The last sample on the plateau before the fall, and how long the fall takes to 1/e.
    std::size_t high = low;
    while (high > 0 && electrode.value[high] < limit_V) --high;
    std::size_t third = low;
    while (third + 1 < electrode.size() && electrode.value[third] > 0.37 * height_V) ++third;
    const double scale_s = electrode.time_s[third] - electrode.time_s[high];
    if (!(scale_s > 0)) return {};

    const double first_s = hold.time_s[plateau.first];
    const double step_s = electrode.time_s[std::min(high + 1, electrode.size() - 1)] - electrode.time_s[high];
    const auto kink = find_kink(electrode.between(first_s, electrode.time_s.back()),
                                electrode.time_s[high] - 2 * step_s, electrode.time_s[low], scale_s, noise);
    if (!kink) return {};

    Release release;
    release.source = ReleaseSource::electrode_fall;
    release.through_sensor = false;
    release.time_s = kink->time_s;
    release.u_s = std::hypot(kink->u_time_s, bench ? bench->recorder.u_channel_skew_s : 0.0);

    const double rest_V = std::max(0.02 * height_V, 4 * noise.sample_V());
    std::size_t settled = electrode.size() - 1;
    while (settled > low && std::abs(electrode.value[settled]) < rest_V) --settled;
    if (settled + 1 < electrode.size()) release.settled_s = electrode.time_s[settled + 1];
    double area_Vs = height_V * (electrode.time_s[high] - release.time_s);
    for (std::size_t i = high; i <= settled && i + 1 < electrode.size(); ++i)
        area_Vs += 0.5 * (electrode.value[i] + electrode.value[i + 1]) *
                   (electrode.time_s[i + 1] - electrode.time_s[i]);
    release.delay_s = std::max(0.0, area_Vs / height_V);
    bool fallen = false;
    for (std::size_t i = high; i < electrode.size(); ++i) {
        if (electrode.value[i] < 0.3 * height_V) fallen = true;
        if (fallen && electrode.value[i] > 0.5 * height_V) release.bounced = true;
    }
    return release;
}

std::optional<Release> by_marker(const RunTrace& run, const RunPhases& phases) {
    if (!run.marker || run.marker->size() < 2) return {};
    const trace::Samples& marker = *run.marker;
    const auto [low, high] = std::ranges::minmax(marker.value);
    if (!(high > low)) return {};
    const double middle = 0.5 * (low + high);
    std::optional<Release> nearest;
    double least = 0;
    for (std::size_t i = 1; i < marker.size(); ++i) {
        if ((marker.value[i] > middle) == (marker.value[i - 1] > middle)) continue;
        const double t_s = 0.5 * (marker.time_s[i] + marker.time_s[i - 1]);
        if (t_s < phases.hold_from_s) continue;
        const double off_s = std::max({0.0, phases.fall_from_s - t_s, t_s - phases.fall_to_s});
        if (nearest && off_s >= least) continue;
        least = off_s;
        nearest = Release{};
        nearest->source = ReleaseSource::marker;
        nearest->through_sensor = false;
        nearest->time_s = t_s;
        nearest->u_s = (marker.time_s[i] - marker.time_s[i - 1]) / std::sqrt(12.0);
    }
    return nearest;
}

std::optional<Release> by_change_point(const RunTrace& run, const RunPhases& phases) {
    const double sign = run.sign;
    const trace::SampleStore all = oriented(run.specimen, 0, sign);
    const trace::Samples specimen = all.view();
    const trace::Samples hold = specimen.between(phases.hold_from_s, phases.hold_to_s);
    std::size_t first = specimen.at_or_after(phases.hold_from_s);
    if (hold.size() >= 16)
        first += steady_end(hold, run.height, hold_tolerance * run.height, phases.noise).first;
    const auto kink = find_kink(specimen.slice(first, specimen.size()), phases.fall_from_s, phases.fall_to_s,
                                phases.fall_scale_s, phases.noise);
    if (!kink) return {};
    // A fall from the first sample on has no plateau to turn from.
    const double seen_s = kink->time_s - specimen.time_s.front();
    if (run.starts_charged && seen_s < std::max(3.5 * phases.step_s, 0.05 * phases.fall_scale_s)) return {};
    Release release;
    release.source = ReleaseSource::change_point;
    release.time_s = kink->time_s;
    release.u_s = kink->u_time_s;
    release.waits = kink->accelerates;
    release.first = first;
    release.weights = kink->weights;
    return release;
}

}  // namespace

Release find_release(const RunTrace& run, const RunPhases& phases, const std::optional<plan::Bench>& bench) {
    if (auto release = by_electrode(run, phases, bench)) return *release;
    if (auto release = by_marker(run, phases)) return *release;
    if (auto release = by_change_point(run, phases)) return *release;
    Release release;
    release.source = ReleaseSource::record_start;
    release.time_s = run.specimen.time_s.front();
    release.u_s = phases.step_s / std::sqrt(12.0);
    return release;
}

}  // namespace ebbtide::decay
