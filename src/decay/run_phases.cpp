#include "decay/run_phases.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

namespace ebbtide::decay {
namespace {

/// Last time before `before_s` at which the drive is under `share` of its height; the first sample's time
/// when it never is.
double last_under(const trace::Samples& drive, const RunTrace& run, double share, double before_s) {
    const double limit = share * run.height;
    for (std::size_t i = drive.at_or_after(before_s); i-- > 0;)
        if (run.sign * (drive.value[i] - run.base) < limit) return drive.time_s[i];
    return drive.time_s.front();
}

/// First time from `from_s` on at which the drive and its next sample are over `share` of its height; from_s
/// when they never are.
double first_over(const trace::Samples& drive, const RunTrace& run, double share, double from_s) {
    const double limit = share * run.height;
    const auto over = [&](std::size_t i) { return run.sign * (drive.value[i] - run.base) >= limit; };
    for (std::size_t i = drive.at_or_after(from_s); i + 1 < drive.size(); ++i)
        if (over(i) && over(i + 1)) return drive.time_s[i];
    return from_s;
}

double last_above_median(const trace::Samples& drive, const RunTrace& run, double from_s) {
    const trace::Samples hold = drive.between(from_s, std::nextafter(run.last_high_s, run.first_low_s));
    if (hold.empty()) return run.last_high_s;
    std::vector<double> heights;
    for (const double v : hold.value) heights.push_back(run.sign * (v - run.base));
    std::ranges::nth_element(heights, heights.begin() + static_cast<std::ptrdiff_t>(heights.size() / 2));
    const double median = heights[heights.size() / 2];
    for (std::size_t i = hold.size(); i-- > 0;)
        if (run.sign * (hold.value[i] - run.base) >= median) return hold.time_s[i];
    return run.last_high_s;
}

/// From `from_s`, the time until means over stretches that grow with the elapsed time are under 1/e of the
/// first.
double scale_of_fall(const trace::Samples& specimen, double sign, double base_V, double from_s,
                     double step_s) {
    const double end_s = specimen.time_s.back();
    const double start_V = sign * (mean_of(specimen.between(from_s, from_s + 3.5 * step_s)) - base_V);
    double stretch_s = 3 * step_s;
    for (double t = step_s; from_s + t + stretch_s < end_s; t += 0.5 * stretch_s) {
        stretch_s = std::max(3 * step_s, 0.25 * t);
        const trace::Samples part = specimen.between(from_s + t, from_s + t + stretch_s);
        if (part.empty()) continue;
        if (sign * (mean_of(part) - base_V) < start_V / std::exp(1.0)) return t + 0.5 * stretch_s;
    }
    return std::max(end_s - from_s, step_s);
}

}  // namespace

RunPhases phases_of(const RunTrace& run, bool has_hold) {
    const trace::Samples& drive = run.electrode ? *run.electrode : run.specimen;
    RunPhases phases;
    phases.step_s = trace::typical_interval_s(run.specimen);
    const double start_s = run.specimen.time_s.front(), end_s = run.specimen.time_s.back();

    if (run.starts_charged) {
        phases.lead_end_s = phases.charge_s = phases.hold_from_s = start_s;
    } else {
        // Forward from the charge: backward from the release a bouncing contact would be taken for the rise.
        const double half_s = first_over(drive, run, 0.5, run.charge_start_s);
        const double tenth_s = last_under(drive, run, 0.1, half_s);
        const double arrived_s = first_over(drive, run, 0.9, half_s);
        phases.charge_s = tenth_s;
        // What a rise from a tenth to a half takes is more than what it took to reach a tenth.
        phases.lead_end_s = std::max(start_s, tenth_s - (half_s - tenth_s) - 0.5 * phases.step_s);
        // With noise the last sample under nine tenths may lie in the hold itself: then the half is the
        // better witness.
        const double by_half_s = half_s + 5 * (half_s - tenth_s) + 2 * phases.step_s;
        phases.hold_from_s = std::min(arrived_s, by_half_s);
    }

    // Half of the samples of a hold lie above its median and hardly any of the fall's: the last that does
    // ends the hold, give or take what noise lifts (a long record has samples four deviations high).
    const double held_s = last_above_median(drive, run, phases.hold_from_s);
    const double gap_s = run.first_low_s - held_s;
    phases.hold_to_s = std::max(phases.hold_from_s, held_s - 0.6 * gap_s - 2 * phases.step_s);
    phases.fall_from_s = std::max(phases.hold_from_s, held_s - gap_s - 3 * phases.step_s);
    phases.fall_to_s = std::min(run.first_low_s + phases.step_s, end_s);

    const trace::Samples lead = run.specimen.between(start_s, phases.lead_end_s);
    const double base_V = lead.size() >= 3 ? mean_of(lead) : 0;
    const double fallen_s = std::min(run.first_low_s, end_s);
    const double sign = run.electrode ? run.sign : (run.sign < 0 ? -1.0 : 1.0);
    const trace::Samples fall = run.specimen.between(fallen_s, end_s + phases.step_s);
    phases.fall_scale_s = fall.size() >= 4
                              ? scale_of_fall(run.specimen, sign, base_V, fallen_s, phases.step_s)
                              : std::max(end_s - run.last_high_s, phases.step_s);

    NoiseEvidence evidence;
    if (lead.size() >= 8) evidence.levels.push_back(lead);
    // The voltage creeps up to its hold, on the specimen as slowly as it falls: three more rise times are
    // left out, and half of the hold where the rise was seen on the electrode only.
    const double half_s = 0.5 * (phases.hold_to_s - phases.hold_from_s);
    const double creep_s = 3 * (phases.hold_from_s - phases.charge_s);
    const double level_from_s = phases.hold_from_s + (run.electrode ? half_s : std::min(creep_s, half_s));
    const trace::Samples hold = run.specimen.between(level_from_s, phases.hold_to_s);
    if (has_hold && hold.size() >= 8) evidence.levels.push_back(hold);
    evidence.fall = fall.size() >= 8 ? fall : run.specimen.between(run.last_high_s, end_s + phases.step_s);
    evidence.fall_base_V = base_V;
    evidence.fall_scale_s = phases.fall_scale_s;
    phases.noise = estimate_noise(evidence);
    return phases;
}

}  // namespace ebbtide::decay
