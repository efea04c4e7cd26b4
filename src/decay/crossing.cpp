#include "decay/crossing.hpp"

#include <algorithm>
#include <cmath>

#include "decay/local_parabola.hpp"
#include "lanes/last_above.hpp"

namespace ebbtide::decay {
namespace {

/// What block means of one width say about the level.
struct Sighting {
    std::size_t first_below = 0;       // first sample of the first block at or below
    std::size_t after_last_above = 0;  // one past the last block above
    bool came_back = false;            // by more than noise explains
};

Sighting look(const trace::Samples& fall, double level_V, std::size_t width, const NoiseModel& noise) {
    if (width == 1) {
        // A clean fall passes once, and a pass at the speed of memory shows it.
        const auto last = lanes::last_above(fall.value, level_V);
        const std::size_t after = last ? *last + 1 : 0;
        const auto below = std::ranges::find_if(fall.value, [&](double v) { return v <= level_V; });
        if (static_cast<std::size_t>(below - fall.value.begin()) == after) return {after, after, false};
    }
    const std::size_t blocks = fall.size() / width;
    Sighting seen{fall.size(), 0, false};
    double highest_after = level_V;
    for (std::size_t j = 0; j < blocks; ++j) {
        double sum = 0;
        for (std::size_t i = j * width; i < (j + 1) * width; ++i) sum += fall.value[i];
        const double mean = sum / static_cast<double>(width);
        if (mean <= level_V) {
            seen.first_below = std::min(seen.first_below, j * width);
        } else {
            seen.after_last_above = (j + 1) * width;
            if (seen.first_below < fall.size()) highest_after = std::max(highest_after, mean);
        }
    }
    const std::size_t sample = std::min(seen.first_below, fall.size() - width);
    seen.came_back = highest_after - level_V > 5.5 * noise.of_mean(fall.time_s.subspan(sample, width));
    return seen;
}

/// The remainder of an exponential of this scale after its parabola, for unit slope: what a parabola cannot
/// follow.
double remainder(double u, double scale) {
    const double x = u / scale;
    return -scale * (x * x * x / 6 - x * x * x * x / 24);
}

/// A stretch of samples about a time, and how its noise moves the value of a parabola there.
struct Stretch {
    std::size_t first = 0, last = 0;
    LocalParabola fit;
    double root_s = 0;  // where the level is met
};

std::optional<Stretch> stretch_about(const trace::Samples& fall, double at_s, double reach_s,
                                     double usable_from_s) {
    Stretch stretch;
    stretch.first = fall.at_or_after(std::max(usable_from_s, at_s - reach_s));
    stretch.last = fall.at_or_after(at_s + reach_s);
    // Sparse records: at least two samples on each side.
    const std::size_t here = fall.at_or_after(at_s), usable = fall.at_or_after(usable_from_s);
    stretch.first = std::min(stretch.first, here > usable + 2 ? here - 2 : usable);
    stretch.last =
        std::max({stretch.last, std::min(here + 2, fall.size()), std::min(stretch.first + 4, fall.size())});
    if (stretch.last <= stretch.first) return {};
    auto fit = fit_local_parabola(fall.slice(stretch.first, stretch.last), at_s);
    if (!fit) return {};
    stretch.fit = std::move(*fit);
    return stretch;
}

/// Moves the stretch to where its parabola's centre meets the level, by Newton's rule with a fixed slope.
std::optional<Stretch> settle(const trace::Samples& fall, double level_V, double start_s, double reach_s,
                              double usable_from_s, double slope_V_s) {
    double at_s = start_s;
    for (int turn = 0; turn < 40; ++turn) {
        auto stretch = stretch_about(fall, at_s, reach_s, usable_from_s);
        if (!stretch) return {};
        const double length_s = fall.time_s[stretch->last - 1] - fall.time_s[stretch->first];
        const double limit_s = 0.5 * (reach_s + length_s);
        const double move_s = std::clamp((level_V - stretch->fit.value) / slope_V_s, -limit_s, limit_s);
        // Samples that enter and leave make small steps of their own, which need not be chased for ever.
        if (std::abs(move_s) < (turn < 6 ? 1e-7 : turn < 20 ? 2e-3 : 0.05) * reach_s) {
            stretch->root_s = stretch->fit.at_s + move_s;
            return stretch;
        }
        // Half steps once whole ones have not settled: where noise doubles the slope they would swing for
        // ever.
        at_s = std::clamp(at_s + (turn < 6 ? 1.0 : 0.5) * move_s, fall.time_s.front(), fall.time_s.back());
    }
    return {};
}

double noise_of(const trace::Samples& fall, const Stretch& stretch, const NoiseModel& noise) {
    return noise.of_weighted_sum(fall.time_s.subspan(stretch.first, stretch.last - stretch.first),
                                 stretch.fit.value_weights);
}

/// Of the value at the stretch's centre, for a curve of this slope there, as far as its parabola cannot
/// follow.
double bias_of(const trace::Samples& fall, const Stretch& stretch, double slope_V_s, double scale_s) {
    double bias = 0;
    for (std::size_t i = stretch.first; i < stretch.last; ++i)
        bias += stretch.fit.value_weights[i - stretch.first] *
                remainder(fall.time_s[i] - stretch.fit.at_s, scale_s);
    return std::abs(bias * slope_V_s);
}

double first_interval(const trace::Samples& samples) {
    for (std::size_t i = 1; i < samples.size(); ++i)
        if (samples.time_s[i] > samples.time_s[i - 1]) return samples.time_s[i] - samples.time_s[i - 1];
    return 0;
}

struct Slope {
    double V_s = 0, u_V_s = 0;
};

/// Of a parabola about this time: its noise, and the bias of an exponential that it cannot follow.
Slope slope_of(const trace::Samples& fall, const Stretch& stretch, double exponential_V_s, double scale_s,
               const NoiseModel& noise) {
    const auto times = fall.time_s.subspan(stretch.first, stretch.last - stretch.first);
    double bias = 0;
    for (std::size_t i = 0; i < times.size(); ++i)
        bias +=
            stretch.fit.slope_weights[i] * remainder(times[i] - stretch.fit.at_s, scale_s) * exponential_V_s;
    return {stretch.fit.slope, std::hypot(noise.of_weighted_sum(times, stretch.fit.slope_weights), bias)};
}

/// The slope at the crossing from the stretch that knows it best, drawn to that of an exponential as far as
/// noise leaves it open (that prior is taken to hold within 40 %): a slope that noise made flat would make
/// the uncertainty of the time arbitrarily large.
double steadied_slope(const trace::Samples& fall, double centre_s, double exponential_V_s, double scale_s,
                      double widest_s, double usable_from_s, const NoiseModel& noise) {
    std::optional<Slope> best;
    for (double reach_s = 0.02 * scale_s; reach_s <= widest_s; reach_s *= 1.4) {
        const auto stretch = stretch_about(fall, centre_s, reach_s, usable_from_s);
        if (!stretch) continue;
        const Slope slope = slope_of(fall, *stretch, exponential_V_s, scale_s, noise);
        if (!best || slope.u_V_s < best->u_V_s) best = slope;
    }
    const double prior_V_s = 0.4 * exponential_V_s;
    if (!best) return exponential_V_s;
    const double u_V_s = std::max(best->u_V_s, 1e-6 * std::abs(prior_V_s));
    const double own = 1 / (u_V_s * u_V_s), prior = 1 / (prior_V_s * prior_V_s);
    return (best->V_s * own + exponential_V_s * prior) / (own + prior);
}

/// Chooses the stretch by the sampling and the noise alone, not by what the samples in it happen to say: the
/// narrowest stretches would else win whenever noise makes them steep.
std::optional<Crossing> locate_best(const trace::Samples& fall, double level_V, double start_s,
                                    double initial_V, double usable_from_s, const NoiseModel& noise) {
    const double fraction = std::clamp(level_V / initial_V, 1e-12, 0.999);
    const double shortest_s = first_interval(fall);
    if (!(shortest_s > 1e-300)) return {};  // no ladder of stretches can climb from there
    double scale_s = std::max(start_s, shortest_s) / std::log(1 / fraction);
    const double room_s = 0.5 * (fall.time_s.back() - fall.time_s.front());

    // A wide stretch first: it settles where the level is met before narrow ones are compared.
    const double wide_s = std::max(std::min(0.7 * scale_s, room_s), 2 * shortest_s);
    const auto wide = settle(fall, level_V, start_s, wide_s, usable_from_s, -level_V / scale_s);
    if (!wide) return {};
    const double centre_s = wide->root_s;
    scale_s = std::max(centre_s, shortest_s) / std::log(1 / fraction);
    const double widest_s = std::min(1.25 * scale_s, 2 * room_s);
    const double slope_V_s =
        steadied_slope(fall, centre_s, -level_V / scale_s, scale_s, widest_s, usable_from_s, noise);
    if (!(slope_V_s < 0)) return {};

    double best_reach_s = 0, best_cost = 0;
    std::vector<std::pair<double, double>> narrower;  // value at the centre and its noise
    for (double reach_s = 0.02 * scale_s; reach_s <= widest_s; reach_s *= 1.4) {
        const auto stretch = stretch_about(fall, centre_s, reach_s, usable_from_s);
        if (!stretch) continue;
        const double u_V = noise_of(fall, *stretch, noise);
        // A stretch that disagrees with a narrower one by more than that one's noise bends more than its
        // parabola.
        const bool bends = std::ranges::any_of(narrower, [&](const auto& one) {
            return std::abs(stretch->fit.value - one.first) > 5 * one.second + 1e-9 * initial_V;
        });
        if (bends) break;
        narrower.emplace_back(stretch->fit.value, u_V);
        const double cost = std::hypot(u_V, 7 * bias_of(fall, *stretch, slope_V_s, scale_s));
        if (best_reach_s > 0 && cost >= best_cost) continue;
        best_reach_s = reach_s;
        best_cost = cost;
    }
    std::optional<Stretch> chosen = settle(fall, level_V, centre_s, best_reach_s, usable_from_s, slope_V_s);
    if (!chosen) chosen = wide;

    Crossing found;
    found.time_s = chosen->root_s;
    found.slope_V_s = slope_V_s;
    found.scale_s = scale_s;
    found.first = chosen->first;
    found.last = chosen->last;
    found.bias_s = bias_of(fall, *chosen, slope_V_s, scale_s) / -slope_V_s;
    found.u_noise_s = noise_of(fall, *chosen, noise) / -slope_V_s;
    found.weights = std::move(chosen->fit.value_weights);
    for (double& weight : found.weights) weight /= -slope_V_s;
    return found;
}

std::optional<Crossing> between_samples(const trace::Samples& fall, std::size_t below, double level_V,
                                        double initial_V, const NoiseModel& noise) {
    const double before_s = fall.time_s[below - 1], interval_s = fall.time_s[below] - before_s;
    const double drop_V = fall.value[below - 1] - fall.value[below];
    if (!(interval_s > 0) || !(drop_V > 0)) return {};
    const double share = (fall.value[below - 1] - level_V) / drop_V;
    Crossing found;
    found.time_s = before_s + share * interval_s;
    found.slope_V_s = -drop_V / interval_s;
    found.scale_s = std::max(found.time_s, interval_s) / std::log(std::min(initial_V / level_V, 1e12));
    found.bias_s = interval_s / std::sqrt(12.0);
    found.first = below - 1;
    found.last = below + 1;
    found.weights = {(1 - share) * interval_s / drop_V, share * interval_s / drop_V};
    found.u_noise_s = noise.of_weighted_sum(fall.time_s.subspan(found.first, 2), found.weights);
    return found;
}

}  // namespace

CrossingResult find_crossing(const trace::Samples& fall, double level_V, double initial_V,
                             double usable_from_s, const NoiseModel& noise) {
    using enum CrossingResult::Outcome;
    if (fall.size() < 2) return {not_reached, {}, {}};

    // The end of the record decides whether the level was reached: a twentieth of it, five samples at least.
    const std::size_t tail = std::min(fall.size(), std::max<std::size_t>(5, fall.size() / 20));
    const trace::Samples end = fall.slice(fall.size() - tail, fall.size());
    double end_V = 0;
    for (const double v : end.value) end_V += v / static_cast<double>(tail);
    const double u_end_V = noise.of_mean(end.time_s);

    std::size_t width = 1;
    Sighting seen = look(fall, level_V, width, noise);
    while (seen.first_below != seen.after_last_above && fall.size() / (2 * width) >= 4) {
        if (seen.came_back && width > 1) break;
        const Sighting wider = look(fall, level_V, 2 * width, noise);
        const double wide_s = fall.time_s[std::min(2 * width, fall.size() - 1)] - fall.time_s[0];
        const double elapsed_s = fall.time_s[std::min(wider.first_below, fall.size() - 1)];
        if (wide_s > 0.5 * elapsed_s) break;  // wider blocks would wash the fall itself out
        width *= 2;
        seen = wider;
    }

    if (seen.first_below >= fall.size())
        return {end_V - level_V > 2 * u_end_V || width == 1 ? not_reached : too_noisy, {}, {}};
    if (seen.after_last_above + width > fall.size() && end_V > level_V)
        return {end_V - level_V > 2 * u_end_V ? not_reached : too_noisy, {}, {}};
    if (seen.after_last_above == 0) return {at_start, {}, {}};

    const auto time_between = [&](std::size_t i) {
        const std::size_t j = std::clamp<std::size_t>(i, 1, fall.size() - 1);
        return 0.5 * (fall.time_s[j - 1] + fall.time_s[j]);
    };
    CrossingResult result;
    const double middle_s = 0.5 * (time_between(seen.first_below) + time_between(seen.after_last_above));
    const double start_s = seen.came_back ? time_between(seen.first_below) : middle_s;
    result.first = locate_best(fall, level_V, start_s, initial_V, usable_from_s, noise);
    // Too few samples on the fall for a parabola, and no noise that hides where it passes: between two of
    // them.
    if (!result.first && seen.first_below == seen.after_last_above && width == 1)
        result.first = between_samples(fall, seen.first_below, level_V, initial_V, noise);
    if (!result.first) return {too_noisy, {}, {}};
    if (seen.came_back) result.last_s = time_between(seen.after_last_above);
    result.outcome = found;
    return result;
}

}  // namespace ebbtide::decay
