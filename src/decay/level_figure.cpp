#include "decay/level_figure.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "basis/number_text.hpp"
#include "decay/from_level.hpp"
#include "decay/local_fall.hpp"
#include "decay/noise_weights.hpp"

namespace ebbtide::decay {
namespace {

constexpr const char* start_noise = "noise of V0 and release";

/// Noise at the crossing, in V0 and in a change-point release, which share samples and so are taken together
/// where they meet.
void add_noise(std::vector<Contribution>& budget, const Crossing& crossing, double level_share,
               const FallContext& c) {
    const NoiseModel& noise = c.phases.noise;
    const std::optional<double> freedom = noise.degrees_of_freedom;
    const double per_V = -1 / crossing.slope_V_s;

    NoiseWeights start(c.specimen);
    start.add(c.initial.first, c.initial.weights, -level_share * per_V);
    start.add(c.release.first, c.release.weights, -1);
    const std::size_t crossing_first = c.fall_first + crossing.first;
    const bool meets =
        !c.release.weights.empty() && c.release.first + c.release.weights.size() > crossing_first;
    if (meets) {
        start.add(crossing_first, crossing.weights, 1);
        budget.push_back({"noise at crossing, start and release", start.u(noise) / per_V, "V", per_V, freedom,
                          Scope::run, ""});
        return;
    }
    budget.push_back(
        {"noise at the crossing", crossing.u_noise_s / per_V, "V", per_V, freedom, Scope::run, ""});
    if (!c.release.weights.empty())
        budget.push_back({start_noise, start.u(noise), "s", 1, freedom, Scope::run, ""});
    else if (c.initial.u_V > 0 && level_share > 0)
        budget.push_back(
            {"initial voltage", c.initial.u_V, "V", level_share * per_V, freedom, Scope::run, ""});
}

std::vector<Contribution> budget_of(const plan::Level& level, double level_V, const Crossing& crossing,
                                    double decay_s, const FallContext& c) {
    const bool fraction = level.kind == plan::Level::Kind::fraction;
    const double level_share = fraction ? level_V / *c.initial.V : 0;  // of V0 in the level
    const double per_V = -1 / crossing.slope_V_s;
    const double scale_s = crossing.scale_s;
    std::vector<Contribution> budget;
    add_noise(budget, crossing, level_share, c);
    const auto add = [&](const char* source, double u, const char* unit, double sensitivity, Scope scope) {
        if (u > 0 && sensitivity != 0) budget.push_back({source, u, unit, sensitivity, {}, scope, ""});
    };
    const double zero_share = c.initial.own ? level_share : 0;
    if (c.zero.u_V > 0)
        budget.push_back({"zero", c.zero.u_V, "V", (1 - zero_share) * per_V,
                          c.zero.u_residual_V > 0 ? std::nullopt : std::optional(c.zero.degrees_of_freedom),
                          Scope::run, ""});
    if (c.release.weights.empty()) add("release", c.release.u_s, "s", 1, Scope::run);
    add("sampling", c.phases.step_s * c.phases.step_s / (8 * scale_s) / std::sqrt(3.0), "s", 1, Scope::run);
    if (crossing.bias_s > 0.1 * combined_u_s(budget)) add("curvature", crossing.bias_s, "s", 1, Scope::run);
    if (!c.bench) return budget;
    const plan::Sensor& sensor = c.bench->sensor;
    add("time base", c.bench->recorder.u_time_base, "1", decay_s, Scope::bench);
    add("sensor linearity", sensor.u_linearity, "1", scale_s, Scope::bench);
    if (stated_in_volts(level, c)) add("sensor gain", sensor.scale.u_gain, "1", scale_s, Scope::bench);
    if (!c.release.through_sensor) {
        add("sensor lag", sensor.u_lag_s, "s", 1, Scope::bench);
        // Taken off as a plain delay; the model's second term (docs/handbook/02-figures.md) is what that
        // leaves.
        add("lag model", sensor.lag_s * sensor.lag_s / (2 * scale_s) / std::sqrt(3.0), "s", 1, Scope::bench);
    }
    return budget;
}

/// Of what the noise does to the place of the crossing; the release shifts the time as a whole.
double noise_variance_of(const std::vector<Contribution>& budget) {
    double variance = 0;
    for (const Contribution& part : budget)
        if (part.degrees_of_freedom && part.source != start_noise) variance += part.u_s() * part.u_s();
    return variance;
}

/// Lag shifts what is seen against an electrode or marker; a change point in the specimen's own voltage is
/// shifted with it.
double lag_of(const FallContext& c) {
    return c.bench && !c.release.through_sensor ? c.bench->sensor.lag_s : 0;
}

}  // namespace

bool stated_in_volts(const plan::Level& level, const FallContext& c) {
    return level.kind == plan::Level::Kind::absolute_V || c.rules.basis == plan::InitialBasis::nominal;
}

double u_in_volts(const std::vector<Contribution>& budget, const Crossing& crossing) {
    double variance = 0;
    for (const Contribution& line : budget)
        if (line.unit == "V") variance += line.u_s() * line.u_s();
    return -crossing.slope_V_s * std::sqrt(variance);
}

LevelFigure with_status(LevelFigure figure, LevelStatus status, std::string reason) {
    figure.status = status;
    figure.reason = std::move(reason);
    return figure;
}

LevelFigure level_figure(const plan::Level& level, const FallContext& c) {
    LevelFigure figure;
    figure.level = level;
    if (!c.initial.V)
        return with_status(figure, c.initial.hidden_by_noise ? LevelStatus::too_noisy : LevelStatus::refused,
                           c.initial.missing);
    const double initial_V = *c.initial.V;
    figure.level_V = level.volts(initial_V);
    const NoiseModel& noise = c.phases.noise;

    if (level.value == 0) {
        const plan::ZeroFloor& floor = c.rules.zero_floor;
        figure.level_V =
            floor.kind == plan::ZeroFloor::Kind::fraction ? floor.value * initial_V : floor.value;
        const double least_V = 3 * std::hypot(noise.sample_V(), c.zero.u_V);
        if (floor.kind == plan::ZeroFloor::Kind::none || figure.level_V < least_V)
            return with_status(
                figure, LevelStatus::refused,
                fmt::format("level zero needs a floor of at least three standard deviations of noise and "
                            "zero, {} V here",
                            significant_text(least_V, 3)));
    }
    if (figure.level_V >= initial_V)
        return with_status(figure, LevelStatus::refused,
                           fmt::format("the level of {} V is not below the initial voltage of {} V",
                                       significant_text(figure.level_V, 4), significant_text(initial_V, 4)));

    if (c.rules.from) return figure_from_level(std::move(figure), c);

    const double start_V = c.start_V > figure.level_V ? c.start_V : initial_V;
    const CrossingResult result = find_crossing(c.fall, figure.level_V, start_V, c.usable_from_s, noise);
    const double record_s = c.fall.empty() ? 0 : c.fall.time_s.back();
    switch (result.outcome) {
        case CrossingResult::Outcome::not_reached:
            // What was seen last, a lagging sensor saw late.
            figure.at_least_s = std::max(0.0, record_s - lag_of(c));
            return with_status(
                figure, LevelStatus::not_reached,
                fmt::format("the record ends {} s after the release with {} % of the initial voltage left",
                            significant_text(record_s, 3), fixed_text(100 * c.end_V / initial_V, 1)));
        case CrossingResult::Outcome::at_start:
            figure.at_most_s = std::max(c.resolution_s, c.fall.time_s.front());
            return with_status(figure, LevelStatus::below_resolution,
                               "the voltage was below the level at the first sample after the release");
        case CrossingResult::Outcome::too_noisy:
            return with_status(
                figure, LevelStatus::too_noisy,
                fmt::format("the noise of {} V leaves no place where the level is crossed for good",
                            significant_text(noise.sample_V(), 2)));
        case CrossingResult::Outcome::found:
            break;
    }

    const Crossing& crossing = *result.first;
    const double lag_s = lag_of(c);
    // A sensor as slow as the decay hides it: the true time constant is under the lag when the seen one is
    // under twice the lag.
    const bool hidden = c.bench && crossing.scale_s < 2 * c.bench->sensor.lag_s;
    if (hidden || crossing.time_s - lag_s < c.resolution_s) {
        figure.at_most_s = std::max(c.resolution_s, crossing.time_s);
        return with_status(figure, LevelStatus::below_resolution,
                           hidden ? "the decay is about as fast as the sensor itself"
                                  : fmt::format("decay times under {} s are not resolved",
                                                significant_text(c.resolution_s, 3)));
    }
    figure.budget = budget_of(level, figure.level_V, crossing, crossing.time_s - lag_s, c);
    // The curve flattens: noise that is symmetric in volts is not in seconds. For -T ln(1 + x) the mean lies
    // u^2/2T late and the variance grows by 5 u^4/2T^2 (JCGM 100:2008, 5.1.2 note, carried out for the
    // logarithm).
    const double noise_variance = noise_variance_of(figure.budget);
    if (noise_variance > 0)
        figure.budget.push_back({std::string(second_order_line),
                                 std::sqrt(2.5) * noise_variance / crossing.scale_s, "s", 1,
                                 noise.degrees_of_freedom, Scope::run, ""});
    const double u_s = combined_u_s(figure.budget);
    if (u_s > widest_share * crossing.scale_s) {
        figure.budget.clear();
        return with_status(
            figure, LevelStatus::too_noisy,
            fmt::format("its standard uncertainty of {} s would exceed {} of the time constant, {} s",
                        significant_text(u_s, 2), fixed_text(widest_share, 2),
                        significant_text(crossing.scale_s, 2)));
    }
    figure.status = LevelStatus::measured;
    figure.decay_s = crossing.time_s - lag_s - 0.5 * noise_variance / crossing.scale_s;
    figure.u_decay_s = u_s;
    figure.degrees_of_freedom = effective_degrees_of_freedom(figure.budget);
    figure.local_fall = local_fall_of(c.fall, crossing, figure.level_V,
                                      6 * u_in_volts(figure.budget, crossing), c.usable_from_s, lag_s);
    if (result.last_s) figure.last_crossing_s = *result.last_s - lag_s;
    std::ranges::stable_sort(figure.budget, std::greater{}, &Contribution::u_s);
    return figure;
}

}  // namespace ebbtide::decay
