#pragma once
// A noise-free run on the clamps' own clock: electrode and specimen, with a fall given as a function of time.

#include <cmath>
#include <functional>
#include <numbers>
#include <optional>
#include <stdexcept>
#include <string>
#include <vector>

#include "decay/figures.hpp"
#include "trace/cutter.hpp"
#include "trace/samples.hpp"

namespace ebbtide::validation {

/// Centre of a sheet close to an earthed surface, both edges earthed, even at the release; time in units of
/// its slowest time constant.
inline double plane_wall_centre(double t) {
    double sum = 0, sign = 1;
    for (int k = 0; k < 400; ++k, sign = -sign)
        sum += sign / (2 * k + 1) * std::exp(-(2 * k + 1) * (2 * k + 1) * t);
    return 4 / std::numbers::pi * sum;
}

/// What a first-order sensor of this lag shows of an exponential of time constant 1.
inline std::function<double(double)> lagged(double lag) {
    return [lag](double t) { return (std::exp(-t) - lag * std::exp(-t / lag)) / (1 - lag); };
}

struct KnownFall {
    std::function<double(double)>
        fraction;        ///< of the initial voltage, time since the release in seconds, from 1 at 0
    double scale_s = 1;  ///< roughly the time of a factor e: sets the lead, the hold and the sampling
    double record_s = 6;
    double initial_V = 5000;
    double electrode_V = 5000;
    double electrode_fall_s = 0;                            ///< time constant; 0: within one sample
    std::function<double(double)> electrode_fraction = {};  ///< instead of electrode_fall_s
    double samples_per_scale = 2000;
    bool with_electrode = true;
};

/// Decay figures at these levels ("0.1", "500 V").
inline decay::Figures figures_of(const KnownFall& known, std::initializer_list<const char*> levels,
                                 const std::optional<plan::Bench>& bench = {}) {
    const double lead_s = 0.5 * known.scale_s, hold_s = 2 * known.scale_s,
                 step_s = known.scale_s / known.samples_per_scale;
    trace::SampleStore specimen, electrode;
    // The release lies half-way between two samples, as it does on the average.
    const double release_s = lead_s + hold_s + 0.5 * step_s;
    for (std::size_t i = 0; static_cast<double>(i) * step_s < release_s + known.record_s; ++i) {
        const double t_s = static_cast<double>(i) * step_s, since_s = t_s - release_s;
        const bool charged = t_s >= lead_s;
        specimen.time_s.push_back(t_s);
        specimen.value.push_back(!charged ? 0
                                          : known.initial_V * (since_s <= 0 ? 1 : known.fraction(since_s)));
        electrode.time_s.push_back(t_s);
        const double fallen = known.electrode_fall_s > 0 ? std::exp(-since_s / known.electrode_fall_s) : 0;
        const double left = since_s <= 0               ? 1
                            : known.electrode_fraction ? known.electrode_fraction(since_s)
                                                       : fallen;
        electrode.value.push_back(!charged ? 0 : known.electrode_V * left);
    }
    trace::RunCutter cutter;
    std::vector<trace::RunSpan> spans;
    if (known.with_electrode)
        cutter.add(electrode.value, specimen.value, spans);
    else
        cutter.add(specimen.value, spans);
    cutter.finish(spans);
    if (spans.size() != 1) throw std::runtime_error("not one run: " + std::to_string(spans.size()));

    const trace::RunSpan& span = spans.front();
    decay::RunTrace run;
    run.specimen = specimen.view().slice(span.first, span.end);
    if (known.with_electrode) run.electrode = electrode.view().slice(span.first, span.end);
    run.starts_charged = span.starts_charged;
    run.sign = span.sign;
    run.base = span.base;
    run.height = span.height;
    run.charge_start_s = specimen.time_s[span.charge_start];
    run.last_high_s = specimen.time_s[span.last_high];
    run.first_low_s = specimen.time_s[std::min<std::size_t>(span.first_low, span.end - 1)];
    plan::DecayRules rules;
    for (const char* level : levels) rules.levels.push_back(*plan::parse_level(level));
    return decay::figures_of(run, rules, bench);
}

}  // namespace ebbtide::validation
