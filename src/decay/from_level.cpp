#include "decay/from_level.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "basis/number_text.hpp"
#include "decay/local_fall.hpp"
#include "decay/noise_weights.hpp"

namespace ebbtide::decay {
namespace {

constexpr const char* noise_of_both = "noise at both crossings";
constexpr const char* noise_of_start = "noise at the start level";
constexpr const char* noise_of_end = "noise at the crossing";

/// A level with its crossing, and how the time there follows what both ends share; seconds per unit.
struct End {
    const Crossing& crossing;
    double per_V = 0;        // of the voltage itself
    double share_of_V0 = 0;  // of V0 in the level
    double per_zero_V = 0;
    double per_relative_gain = 0;

    End(const Crossing& at, const plan::Level& level, double level_V, const FallContext& c) : crossing(at) {
        const bool fraction = level.kind == plan::Level::Kind::fraction;
        per_V = -1 / at.slope_V_s;
        share_of_V0 = fraction ? level_V / *c.initial.V : 0;
        per_zero_V = (1 - (c.initial.own ? share_of_V0 : 0)) * per_V;
        per_relative_gain = stated_in_volts(level, c) ? level_V * per_V : 0;
    }
};

void add_noise(std::vector<Contribution>& budget, const End& from, const End& to, const FallContext& c) {
    const NoiseModel& noise = c.phases.noise;
    const std::optional<double> freedom = noise.degrees_of_freedom;
    const double per_V0 = to.share_of_V0 * to.per_V - from.share_of_V0 * from.per_V;
    const bool shared = from.crossing.last > to.crossing.first;
    const bool begins_in_V0 =
        per_V0 != 0 && c.initial.first + c.initial.weights.size() > c.fall_first + from.crossing.first;
    if (shared || begins_in_V0) {
        NoiseWeights all(c.specimen);
        all.add(c.fall_first + from.crossing.first, from.crossing.weights, -1);
        all.add(c.fall_first + to.crossing.first, to.crossing.weights, 1);
        all.add(c.initial.first, c.initial.weights, -per_V0);
        budget.push_back({noise_of_both, all.u(noise), "s", 1, freedom, Scope::run, ""});
        return;
    }
    budget.push_back(
        {noise_of_end, to.crossing.u_noise_s / to.per_V, "V", to.per_V, freedom, Scope::run, ""});
    // In seconds: a line in volts would be carried along the fall at the other end.
    budget.push_back({noise_of_start, from.crossing.u_noise_s, "s", 1, freedom, Scope::run, ""});
    if (c.initial.u_V > 0 && per_V0 != 0)
        budget.push_back({"initial voltage", c.initial.u_V, "V", per_V0, freedom, Scope::run, ""});
}

std::vector<Contribution> budget_of(const End& from, const End& to, double decay_s, const FallContext& c) {
    std::vector<Contribution> budget;
    add_noise(budget, from, to, c);
    const auto add = [&](const char* source, double u, const char* unit, double sensitivity, Scope scope) {
        if (u > 0 && sensitivity != 0) budget.push_back({source, u, unit, sensitivity, {}, scope, ""});
    };
    if (c.zero.u_V > 0)
        budget.push_back({"zero", c.zero.u_V, "V", to.per_zero_V - from.per_zero_V,
                          c.zero.u_residual_V > 0 ? std::nullopt : std::optional(c.zero.degrees_of_freedom),
                          Scope::run, ""});
    const double step_squared = c.phases.step_s * c.phases.step_s;
    add("sampling",
        step_squared / 8 * std::hypot(1 / to.crossing.scale_s, 1 / from.crossing.scale_s) / std::sqrt(3.0),
        "s", 1, Scope::run);
    const double bias_s = std::hypot(to.crossing.bias_s, from.crossing.bias_s);
    if (bias_s > 0.1 * combined_u_s(budget)) add("curvature", bias_s, "s", 1, Scope::run);
    if (!c.bench) return budget;
    const plan::Sensor& sensor = c.bench->sensor;
    add("time base", c.bench->recorder.u_time_base, "1", decay_s, Scope::bench);
    add("sensor linearity", sensor.u_linearity, "1", to.crossing.scale_s, Scope::bench);
    add("sensor gain", sensor.scale.u_gain, "1", to.per_relative_gain - from.per_relative_gain, Scope::bench);
    if (sensor.lag_s > 0) {
        // What a plain delay leaves: its second term where the fall is not as steep at both ends, and the lag
        // that has not built up yet soon after the release.
        const double second_s =
            0.5 * sensor.lag_s * sensor.lag_s * std::abs(1 / to.crossing.scale_s - 1 / from.crossing.scale_s);
        const double early_s = sensor.lag_s * std::exp(-from.crossing.time_s / sensor.lag_s);
        add("lag model", std::hypot(second_s, early_s) / std::sqrt(3.0), "s", 1, Scope::bench);
    }
    return budget;
}

double variance_of(const std::vector<Contribution>& budget, const char* source) {
    for (const Contribution& part : budget)
        if (part.source == source) return part.u_s() * part.u_s();
    return 0;
}

/// The outcome when one of the two is no crossing that was found.
LevelFigure bounded(LevelFigure figure, const CrossingResult& from, const CrossingResult& to, double from_V,
                    const FallContext& c) {
    using enum CrossingResult::Outcome;
    const double first_s = c.fall.empty() ? 0 : c.fall.time_s.front();
    const double record_s = c.fall.empty() ? 0 : c.fall.time_s.back();
    const std::string start = significant_text(from_V, 4) + " V";
    if (from.outcome == too_noisy || to.outcome == too_noisy)
        return with_status(
            figure, LevelStatus::too_noisy,
            fmt::format("the noise of {} V leaves no place where {} is crossed for good",
                        significant_text(c.phases.noise.sample_V(), 2),
                        from.outcome == too_noisy ? "the start level of " + start : "the level"));
    if (from.outcome == not_reached) {
        figure.at_least_s = 0;
        return with_status(figure, LevelStatus::not_reached,
                           fmt::format("the record ends {} s after the release, before the fall passes {}",
                                       significant_text(record_s, 3), start));
    }
    const double passed_s =
        from.first ? from.first->time_s + 2 * from.first->u_noise_s : first_s;  // at the latest
    if (to.outcome == not_reached) {
        figure.at_least_s = std::max(0.0, record_s - passed_s);
        return with_status(
            figure, LevelStatus::not_reached,
            fmt::format("the record ends {} s after the fall passed {} with {} V left",
                        significant_text(*figure.at_least_s, 3), start, significant_text(c.end_V, 3)));
    }
    const double ends_s = to.first ? to.first->time_s + 2 * to.first->u_noise_s : first_s;
    figure.at_most_s = std::max(c.resolution_s, ends_s);
    return with_status(figure, LevelStatus::below_resolution,
                       fmt::format("the fall passed {} before the first sample after the release", start));
}

}  // namespace

LevelFigure figure_from_level(LevelFigure figure, const FallContext& c) {
    const double from_V = c.rules.from->volts(*c.initial.V);
    const double margin_V = 3 * std::hypot(c.initial.u_V, c.zero.u_V);
    if (!(c.start_V - margin_V > from_V))
        return with_status(
            figure, LevelStatus::refused,
            fmt::format("the fall starts at {} V, which is not clearly above {} V, from where the "
                        "time would count",
                        significant_text(c.start_V, 4), significant_text(from_V, 4)));
    if (figure.level_V >= from_V)
        return with_status(figure, LevelStatus::refused,
                           fmt::format("the level of {} V is not below {} V, from where the time would count",
                                       significant_text(figure.level_V, 4), significant_text(from_V, 4)));

    const NoiseModel& noise = c.phases.noise;
    const CrossingResult start = find_crossing(c.fall, from_V, c.start_V, c.usable_from_s, noise);
    const CrossingResult end = find_crossing(c.fall, figure.level_V, c.start_V, c.usable_from_s, noise);
    if (!start.first || !end.first) return bounded(std::move(figure), start, end, from_V, c);

    const End from(*start.first, *c.rules.from, from_V, c), to(*end.first, figure.level, figure.level_V, c);
    const double decay_s = to.crossing.time_s - from.crossing.time_s;
    const bool hidden = c.bench && to.crossing.scale_s < 2 * c.bench->sensor.lag_s;
    if (hidden || decay_s < c.resolution_s) {
        figure.at_most_s = std::max(c.resolution_s, decay_s);
        return with_status(figure, LevelStatus::below_resolution,
                           hidden ? "the decay is about as fast as the sensor itself"
                                  : fmt::format("decay times under {} s are not resolved",
                                                significant_text(c.resolution_s, 3)));
    }
    figure.budget = budget_of(from, to, decay_s, c);
    // Noise makes each crossing late by u^2/2T (level_figure.cpp); the one at the start level shortens the
    // time.
    const double end_shift_s = variance_of(figure.budget, noise_of_end) / to.crossing.scale_s;
    const double start_shift_s = variance_of(figure.budget, noise_of_start) / from.crossing.scale_s;
    if (end_shift_s > 0 || start_shift_s > 0)
        figure.budget.push_back({std::string(second_order_line),
                                 std::sqrt(2.5) * std::hypot(end_shift_s, start_shift_s), "s", 1,
                                 noise.degrees_of_freedom, Scope::run, ""});
    const double u_s = combined_u_s(figure.budget);
    if (u_s > widest_share * to.crossing.scale_s) {
        figure.budget.clear();
        return with_status(
            figure, LevelStatus::too_noisy,
            fmt::format("its standard uncertainty of {} s would exceed {} of the time constant, {} s",
                        significant_text(u_s, 2), fixed_text(widest_share, 2),
                        significant_text(to.crossing.scale_s, 2)));
    }
    figure.status = LevelStatus::measured;
    figure.decay_s = decay_s - 0.5 * (end_shift_s - start_shift_s);
    figure.u_decay_s = u_s;
    figure.degrees_of_freedom = effective_degrees_of_freedom(figure.budget);
    figure.local_fall =
        local_fall_of(c.fall, to.crossing, figure.level_V, 6 * u_in_volts(figure.budget, to.crossing),
                      c.usable_from_s, from.crossing.time_s);
    if (end.last_s) figure.last_crossing_s = *end.last_s - from.crossing.time_s;
    std::ranges::stable_sort(figure.budget, std::greater{}, &Contribution::u_s);
    return figure;
}

}  // namespace ebbtide::decay
