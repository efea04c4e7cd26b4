#include "decay/initial_voltage.hpp"

#include <algorithm>
#include <cmath>

#include "decay/local_parabola.hpp"
#include "decay/plateau.hpp"

namespace ebbtide::decay {
namespace {

constexpr double level_tolerance =
    1e-4;  // of the height: a creep that moves a decay time by a ten-thousandth of T

InitialVoltage mean_over(const RunTrace& run, std::size_t first, std::size_t last, double zero_V,
                         const NoiseModel& noise) {
    const trace::Samples window = run.specimen.slice(first, last);
    InitialVoltage initial;
    const Plateau plateau = plateau_of(window, run.height, noise);
    initial.V = run.sign * (plateau.mean_V - zero_V);
    initial.u_V = plateau.u_mean_V;
    initial.steady = plateau.steady;
    initial.drift_V = run.sign * plateau.drift_V;
    initial.from_s = window.time_s.front();
    initial.to_s = window.time_s.back();
    initial.first = first;
    initial.weights.assign(last - first, 1.0 / static_cast<double>(last - first));
    return initial;
}

InitialVoltage hold_mean(const RunTrace& run, const RunPhases& phases, const Release& release,
                         const Zero& zero, const plan::DecayRules& rules) {
    // An uncertain release must not let the fall into the window; half the hold is kept in any case.
    const double hold_s = std::max(0.0, release.time_s - phases.hold_from_s);
    const double guard_s = std::max(rules.basis_guard_s, std::min(2 * release.u_s, 0.5 * hold_s));
    const double to_s = release.time_s - guard_s;
    const double from_s = rules.basis_window_s ? to_s - *rules.basis_window_s : phases.hold_from_s;
    const std::size_t first = run.specimen.at_or_after(from_s);
    const std::size_t last = std::max(first, run.specimen.at_or_after(to_s));
    if (last - first < 2 || (rules.basis_window_s && from_s < phases.hold_from_s - phases.step_s)) {
        InitialVoltage none;
        none.missing = rules.basis_window_s ? "the hold is shorter than the window in which V0 is taken"
                                            : "the hold is too short to take V0 from";
        // The change point wanders through the hold when noise is some hundredths of the height.
        none.hidden_by_noise =
            release.source == ReleaseSource::change_point && phases.noise.sample_V() > 0.02 * run.height;
        return none;
    }
    if (rules.basis_window_s) return mean_over(run, first, last, zero.V, phases.noise);
    const Plateau steady =
        steady_end(run.specimen.slice(first, last), run.height, level_tolerance * run.height, phases.noise);
    return mean_over(run, first + steady.first, first + steady.last, zero.V, phases.noise);
}

InitialVoltage charging_maximum(const RunTrace& run, const RunPhases& phases, const Release& release,
                                const Zero& zero, const plan::DecayRules& rules) {
    const double width_s = rules.basis_bandwidth_s.value_or(0);
    const trace::Samples s = run.specimen;
    const std::size_t begin = s.at_or_after(phases.charge_s), end = s.at_or_after(release.time_s);
    std::size_t first = begin, best_first = begin, best_last = begin;
    double sum = 0, best = 0;
    for (std::size_t last = begin; last < end; ++last) {
        sum += run.sign * s.value[last];
        while (first < last && s.time_s[last] - s.time_s[first] >= width_s)
            sum -= run.sign * s.value[first++];
        const bool full = s.time_s[last] - s.time_s[begin] >= 0.99 * width_s - phases.step_s;
        const double mean = sum / static_cast<double>(last + 1 - first);
        if (full && (best_last == begin || mean > best)) {
            best = mean;
            best_first = first;
            best_last = last + 1;
        }
    }
    if (best_last == begin) {
        InitialVoltage none;
        none.missing = "the charging side is shorter than the bandwidth in which the maximum is taken";
        return none;
    }
    InitialVoltage initial = mean_over(run, best_first, best_last, zero.V, phases.noise);
    initial.steady = true;
    return initial;
}

/// The recording starts at the release: the curve is carried back to its first sample.
InitialVoltage at_record_start(const RunTrace& run, const RunPhases& phases, const Zero& zero) {
    InitialVoltage best;
    best.missing = "too few samples after the release to tell where the fall begins";
    double best_cost = 0;
    const double start_s = run.specimen.time_s.front();
    for (double reach_s = 0.04 * phases.fall_scale_s; reach_s < 0.8 * phases.fall_scale_s; reach_s *= 1.5) {
        const std::size_t last = std::min(
            run.specimen.size(), std::max<std::size_t>(4, run.specimen.at_or_after(start_s + reach_s)));
        const auto fit = fit_local_parabola(run.specimen.slice(0, last), start_s);
        if (!fit) continue;
        const double u_V = phases.noise.of_weighted_sum(run.specimen.time_s.first(last), fit->value_weights);
        const double x = reach_s / phases.fall_scale_s;
        const double bias_V =
            run.height * x * x * x / 60;  // an exponential's remainder, as a boundary fit sees it
        const double cost = std::hypot(u_V, 3 * bias_V);
        if (best.V && cost >= best_cost) continue;
        best_cost = cost;
        best.V = run.sign * (fit->value - zero.V);
        best.u_V = std::hypot(u_V, bias_V);
        best.from_s = start_s;
        best.to_s = run.specimen.time_s[last - 1];
        best.weights = fit->value_weights;
    }
    return best;
}

double noise_of_one_V(const NoiseModel& noise) {
    return std::hypot(noise.sample_V(), noise.step_V / std::sqrt(12.0));
}

}  // namespace

Zero zero_of(const RunTrace& run, const RunPhases& phases, const plan::DecayRules& rules,
             const std::optional<plan::Bench>& bench) {
    Zero zero;
    zero.degrees_of_freedom = phases.noise.degrees_of_freedom;
    const trace::Samples lead = run.specimen.between(run.specimen.time_s.front(), phases.lead_end_s);
    // The tail of the run before may reach into the lead: only its level end is a zero.
    const Plateau plateau = steady_end(lead, run.height, 0, phases.noise);
    zero.seen = !run.starts_charged && !lead.empty() && plateau.steady;
    if (zero.seen) {
        zero.V = plateau.mean_V;
        zero.u_V = plateau.u_mean_V;
        if (lead.size() < 3) zero.u_V = std::hypot(zero.u_V, noise_of_one_V(phases.noise));
        zero.proven = bench && bench->lead_in_is_zero_state;
    } else {
        // Never seen: no further off than what is left at the end of the record, nor than a hundredth of the
        // height (common practice, no source).
        const trace::Samples end = run.specimen.slice(
            run.specimen.size() - std::min<std::size_t>(run.specimen.size(), 5), run.specimen.size());
        double end_V = 0;
        for (const double v : end.value) end_V += v / static_cast<double>(end.size());
        const double within_V = std::min(std::abs(end_V), 0.01 * run.height);
        zero.u_V = std::hypot(noise_of_one_V(phases.noise), within_V / std::sqrt(3.0));
    }
    if (!zero.proven && rules.residual_limit_V) {
        // What was taken for zero may be charge left on the specimen: no more than the method allows, and,
        // where the zero itself is bounded, no more than the reading and that bound together.
        double residual_V = *rules.residual_limit_V;
        if (zero.seen && rules.zero_limit_V)
            residual_V = std::min(residual_V, std::abs(zero.V) + *rules.zero_limit_V);
        zero.u_residual_V = residual_V / std::sqrt(3.0);
        zero.u_V = std::hypot(zero.u_V, zero.u_residual_V);
    }
    return zero;
}

InitialVoltage initial_voltage_of(const RunTrace& run, const RunPhases& phases, const Release& release,
                                  const Zero& zero, const plan::DecayRules& rules,
                                  const std::optional<ReferenceLevel>& reference) {
    InitialVoltage initial;
    switch (rules.basis) {
        case plan::InitialBasis::without_specimen:
            initial.own = false;
            if (reference) {
                initial.V = reference->V;
                initial.u_V = reference->u_V;
                break;
            }
            initial.V = rules.stated_initial_V;
            if (!initial.V)
                initial.missing =
                    "no run without specimen that counts was recorded at this polarity and under these "
                    "conditions";
            break;
        case plan::InitialBasis::nominal:
            initial.own = false;
            initial.V = rules.stated_initial_V;
            if (!initial.V) initial.missing = "the method states no initial voltage";
            break;
        case plan::InitialBasis::charging_maximum:
            initial = release.source == ReleaseSource::record_start
                          ? at_record_start(run, phases, zero)
                          : charging_maximum(run, phases, release, zero, rules);
            break;
        case plan::InitialBasis::hold_mean:
            initial = release.source == ReleaseSource::record_start
                          ? at_record_start(run, phases, zero)
                          : hold_mean(run, phases, release, zero, rules);
            break;
    }
    if (initial.V && !(*initial.V > 0)) {
        initial.V.reset();
        initial.missing = "the initial voltage is not on the charging side of the zero";
    }
    return initial;
}

}  // namespace ebbtide::decay
