#include "sheet/inversion.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "basis/number_text.hpp"
#include "fit/profile.hpp"
#include "fit/rise.hpp"
#include "sheet/moved_fit.hpp"

namespace ebbtide::sheet {
namespace {

constexpr double confidence = 0.95;
constexpr double two_sided = 1.96;
constexpr double nearly_gone = 0.03;  // of the hold's reading, when the first samples of the fall are taken
constexpr std::size_t first_samples = 16;
constexpr double kept_by_sheet = 0.5;  // of a long hold's reading, that conduction must account for
constexpr double parabola_to = 0.05;   // relative standard error up to which the surface is taken for one
constexpr double long_hold = 5;        // time constants

const fit::Spread own_noise{fit::Scatter::correlated_residuals};
const fit::Spread values_only{fit::Scatter::from_residuals};

std::size_t shape_at(const fit::Law& law, std::size_t parameter) {
    return law.amplitudes.size() + parameter;
}

std::string problem_of(const SeenFall& fall) {
    if (fall.curve.size() < 8) return "fewer than eight samples of the fall";
    if (fall.curve.x.size() != fall.curve.y.size()) return "as many times as voltages are needed";
    if (!(fall.held_V > 0) || !std::isfinite(fall.held_V)) return "there is no reading of the hold";
    for (const double length_s : {fall.between.lag_s, fall.between.fall_s, fall.between.hold_s.value_or(1)})
        if (!(length_s >= 0) || !std::isfinite(length_s)) return "a length of time is below zero";
    if (fall.between.hold_s && !(*fall.between.hold_s > 0)) return "the hold has no length";
    if (fall.clamp_V && !(*fall.clamp_V > 0)) return "the clamps' voltage is not above zero";
    if (!(fall.curve.x.front() >= 0)) return "the fall begins before the release";
    if (!(fall.curve.x.back() > fall.curve.x.front())) return "the fall has no length";
    return {};
}

double typical_step_s(const fit::Curve& curve) {
    return (curve.x.back() - curve.x.front()) / static_cast<double>(curve.size() - 1);
}

double fastest_that_shows_s(const SeenFall& fall) {
    return fast_limit * std::max({fall.between.lag_s, fall.between.fall_s, typical_step_s(fall.curve)});
}

struct Level {
    double time_s = 0, mean_V = 0, spread_V = 0;
};

Level level_of(const fit::Curve& curve, std::size_t from, std::size_t to) {
    Level out;
    const auto count = static_cast<double>(to - from);
    for (std::size_t i = from; i < to; ++i) {
        out.time_s += curve.x[i] / count;
        out.mean_V += curve.y[i] / count;
    }
    for (std::size_t i = from; i < to; ++i) out.spread_V += std::pow(curve.y[i] - out.mean_V, 2) / count;
    out.spread_V = std::sqrt(out.spread_V);
    return out;
}

Level first_of(const fit::Curve& curve) {
    return level_of(curve, 0, std::min(curve.size(), first_samples));
}

Level last_of(const fit::Curve& curve) {
    const std::size_t count = std::max<std::size_t>(curve.size() / 20, 1);
    return level_of(curve, curve.size() - count, curve.size());
}

/// Of the charge that the sheet would have taken in a long hold; nothing where the clamps were not recorded.
std::optional<double> charge_share(const SeenFall& fall, double induced) {
    if (!fall.clamp_V) return std::nullopt;
    return (fall.held_V / *fall.clamp_V - induced) / (1 - induced);
}

double induced_of(const TimedSheet& sheet, const SeenFall& fall) {
    return std::clamp(fall.induced_fraction.value_or(sheet.modes().induced_fraction), 0.0, 0.99);
}

/// The longest T that leaves no more than `reading` of the hold at t, all else known.
double slowest_gone_by(const fit::Law& law, double t, double reading) {
    const auto shown = [&](double T) {
        const std::vector<double> x{t};
        return fit::values_of(law, std::vector<double>{1}, std::vector<double>{T}, x).front();
    };
    double low = 1e-6 * t, high = t;
    while (shown(high) < reading && high < 1e12 * t) high *= 2;
    for (int i = 0; i < 100; ++i) {
        const double middle = std::sqrt(low * high);
        (shown(middle) < reading ? low : high) = middle;
    }
    return high;
}

Inversion bound_above(Inversion out, double limit_s) {
    out.state = InversionState::at_most;
    out.time_constant_s = {Identified::bounded_above, {}, {}, limit_s};
    return out;
}

Inversion ended(Inversion out, InversionState state, std::string reason) {
    out.state = state;
    out.reason = std::move(reason);
    return out;
}

/// Where the second parameter may lie, sought from the time of a sheet without it: a law of two parameters
/// that a grid would ask hundreds of times is asked some dozens.
fit::Fit fit_of(const FallModel& model, const fit::Law& law, const SeenFall& fall) {
    const bool alone = model.second == Second::nothing;
    const fit::Law linear = linear_fall(model.sheet.modes(), fall.between);
    if (alone) return fit::fit(linear, fall.curve, own_noise);
    const fit::CurveStore means = fit::block_means(fall.curve);
    const fit::Fit plain = fit::fit(linear, means.view(), values_only);
    fit::Fit out;
    out.outcome = fit::Outcome::singular;
    out.reason = "no start leads to a sheet";
    if (plain.parameters.empty()) return out;
    const double T = plain.parameters.back().value;
    const fit::ShapeParameter& range = law.shape[fall_parameter::second];
    std::optional<std::vector<double>> best;
    double lowest = HUGE_VAL;
    for (const double share : {0.0, 0.5, 1.0}) {
        const double second = range.grid_low * std::pow(range.grid_high / range.grid_low, share);
        // Contacts lengthen the fall, a field shortens it: R_s is sought on that side.
        const double from = model.second == Second::contact ? T / (1 + 4 * second) : T * (1 + second / 2);
        const fit::Fit found = fit::fit_from(law, means.view(), values_only, {from, second});
        if (found.parameters.empty() || !(found.rss < lowest)) continue;
        lowest = found.rss;
        best = found.shape(law);
    }
    return best ? fit::fit_from(law, fall.curve, own_noise, *best) : out;
}

/// One fit with all that its intervals need.
class Found {
  public:
    Found(const fit::Law& law, const fit::Curve& curve, const fit::Fit& fit)
        : law_(law), curve_(curve), fit_(fit) {}

    [[nodiscard]] fit::ProfileInterval ends_of(std::size_t parameter) const {
        const std::size_t at = shape_at(law_, parameter);
        const fit::Parameter& found = fit_.parameters[at];
        if (found.standing == fit::Standing::free && found.standard_error &&
            *found.standard_error < parabola_to * found.value)
            if (const auto interval = fit::interval_of(fit_, law_, at, confidence))
                return {interval->low, interval->high};
        if (found.standing == fit::Standing::free || found.standing == fit::Standing::not_determined)
            if (auto ends = fit::profile_interval(law_, curve_, own_noise, fit_, at, confidence))
                return *ends;
        return from_the_bound(parameter);
    }

  private:
    /// The best lies at an end of the parameter's range: how far it may go from there.
    [[nodiscard]] fit::ProfileInterval from_the_bound(std::size_t parameter) const {
        const std::size_t at = shape_at(law_, parameter);
        if (parameter != fall_parameter::second || fit_.degrees_of_freedom < 1) return {};
        const fit::ShapeParameter& range = law_.shape[parameter];
        const double best = std::log(fit_.parameters[at].value);
        const bool at_low = best < (std::log(range.lowest) + std::log(range.highest)) / 2;
        const double step_s = typical_step_s(curve_);
        const double widened = fit_.noise ? fit_.noise->variance_ratio(step_s) : 1;
        const double student =
            fit::deviations_allowed(own_noise.scatter, fit_.degrees_of_freedom, confidence);
        const double allowed =
            student * student * widened * fit_.rss /
            (static_cast<double>(fit_.points) - static_cast<double>(law_.parameter_count()));
        if (!(allowed > 0)) return {};
        const std::vector<double> start = fit_.shape(law_);
        const auto root = [&](double log_value, std::vector<double>&) {
            const fit::Fit held =
                fit::fit_from(law_, curve_, values_only, start, {std::nullopt, std::exp(log_value)});
            if (held.parameters.empty()) return HUGE_VAL;
            return std::sqrt(std::max(0.0, held.rss - fit_.rss) / allowed);
        };
        const fit::Walk walk{.from = best,
                             .step = at_low ? 0.5 : -0.5,
                             .low = std::log(range.lowest),
                             .high = std::log(range.highest),
                             .closeness = 1e-3};
        const auto end = fit::where_chance_ends(root, walk);
        if (!end) return {};
        if (at_low) return {std::nullopt, std::exp(*end)};
        return {std::exp(*end), std::nullopt};
    }

    const fit::Law& law_;
    const fit::Curve& curve_;
    const fit::Fit& fit_;
};

/// Wider by what is known of no sample, on the logarithmic scale.
Estimate estimate_of(double value, const fit::ProfileInterval& ends, double u_relative) {
    Estimate out;
    const double more = two_sided * u_relative;
    if (ends.low) out.low = value * std::exp(-std::hypot(std::log(value / *ends.low), more));
    if (ends.high) out.high = value * std::exp(std::hypot(std::log(*ends.high / value), more));
    out.identified = out.low && out.high ? Identified::free
                     : out.high          ? Identified::bounded_above
                     : out.low           ? Identified::bounded_below
                                         : Identified::not_determined;
    if (out.identified == Identified::free) out.value = value;
    return out;
}

}  // namespace

double resistance_capacitance_s_m2(double time_constant_s, double gap_m) {
    return time_constant_s * std::pow(std::numbers::pi / gap_m, 2);
}

std::optional<BestFit> best_fit(const FallModel& model, const SeenFall& fall) {
    if (!problem_of(fall).empty()) return std::nullopt;
    const fit::Fit found = fit::fit(model.law(fall.between), fall.curve, values_only);
    if (!found.ok()) return std::nullopt;
    return BestFit{found.parameters.back().value, found.rss};
}

Inversion invert(const FallModel& model, const SeenFall& fall) {
    const TimedSheet& sheet = model.sheet;
    Inversion out;
    if (std::string problem = problem_of(fall); !problem.empty())
        return ended(out, InversionState::refused, std::move(problem));
    const double induced = induced_of(sheet, fall);
    const auto share = charge_share(fall, induced);
    if (share && *share < least_charge)
        return ended(
            out, InversionState::took_no_charge,
            fmt::format("held {} % of the clamps' voltage, of which {} % is what the clamps induce",
                        fixed_text(100 * fall.held_V / *fall.clamp_V, 1), fixed_text(100 * induced, 1)));
    const std::string unproven =
        "it fell with the clamps, whose voltage was not recorded: a specimen that took no charge looks the "
        "same";

    const double limit_s = fastest_that_shows_s(fall);
    const std::string too_fast =
        fmt::format("faster than {} s, {} times the largest of lag, clamps' fall and sample interval",
                    significant_text(limit_s, 3), fast_limit);
    const Level first = first_of(fall.curve);
    if (std::abs(first.mean_V) < std::max(nearly_gone * fall.held_V, 2 * first.spread_V) &&
        first.mean_V < 0.2 * fall.held_V) {
        if (!share) return ended(out, InversionState::charge_unproven, unproven);
        const double most_V = std::abs(first.mean_V) + 2 * first.spread_V + 2 * fall.u_zero_V;
        out.reason = too_fast;
        return bound_above(out, std::max(limit_s, slowest_gone_by(linear_fall(sheet.modes(), fall.between),
                                                                  first.time_s, most_V / fall.held_V)));
    }

    const fit::Law law = model.law(fall.between);
    const fit::Fit fit = fit_of(model, law, fall);
    if (!fit.ok()) return ended(out, InversionState::refused, fit.reason);
    const double T = fit.shape(law)[fall_parameter::time_constant];
    out.amplitude_V = fit.parameters.front().value;
    out.rss = fit.rss;
    out.points = fit.points;
    out.effective_points = fit.effective_points;
    const Found found(law, fall.curve, fit);
    const fit::ProfileInterval ends = found.ends_of(fall_parameter::time_constant);

    if (T < limit_s) {
        if (!share) return ended(out, InversionState::charge_unproven, unproven);
        out.reason = too_fast;
        return bound_above(out, std::max(limit_s, ends.high.value_or(limit_s)));
    }
    if (!(out.amplitude_V > kept_by_sheet * fall.held_V))
        return share ? ended(out, InversionState::refused,
                             "more than half of the hold's reading went with the clamps, which no conduction "
                             "along an evenly charged sheet explains")
                     : ended(out, InversionState::charge_unproven, unproven);
    if (model.second == Second::field && fall.between.hold_s && *fall.between.hold_s < long_hold * T)
        return ended(out, InversionState::refused,
                     fmt::format("the field exponent needs a hold of {} time constants", long_hold));

    // A lag and a late release are one delay.
    const double u_noise = ends.low && ends.high ? std::log(*ends.high / *ends.low) / (2 * two_sided) : 0;
    std::vector<double> by_delay(law.shape.size(), 0), by_zero = by_delay;
    const double delay_s = std::hypot(fall.u_release_s, fall.u_lag_s);
    if (delay_s > 0) by_delay = moved_by(law, fall.curve, fit, delay_s, 0);
    if (fall.u_zero_V > 0) by_zero = moved_by(law, fall.curve, fit, 0, fall.u_zero_V);
    const auto u_beside = [&](std::size_t k) { return std::hypot(by_delay[k], by_zero[k]); };
    out.u_noise = u_noise;
    if (delay_s > 0) {
        out.u_release = std::abs(by_delay[0]) * fall.u_release_s / delay_s;
        out.u_lag = std::abs(by_delay[0]) * fall.u_lag_s / delay_s;
    }
    out.u_zero = std::abs(by_zero[0]);
    out.time_constant_s = estimate_of(T, ends, u_beside(0));
    if (model.second != Second::nothing)
        out.second = estimate_of(fit.shape(law)[fall_parameter::second],
                                 found.ends_of(fall_parameter::second), u_beside(1));

    const double remaining = last_of(fall.curve).mean_V / first.mean_V;
    if (remaining > slow_limit || out.time_constant_s.identified == Identified::bounded_below) {
        if (!out.time_constant_s.low)
            return ended(out, InversionState::refused, "the fall says nothing of the sheet");
        out.time_constant_s = {Identified::bounded_below, {}, out.time_constant_s.low, {}};
        return ended(
            out, InversionState::at_least,
            fmt::format("{} % of the reading just after the release is left at the end of the record",
                        fixed_text(100 * remaining, 0)));
    }
    if (out.time_constant_s.identified == Identified::bounded_above) {
        out.reason = "any faster sheet would show the same";
        if (!share) return ended(out, InversionState::charge_unproven, unproven);
        return bound_above(out, std::max(limit_s, *out.time_constant_s.high));
    }
    if (out.time_constant_s.identified == Identified::not_determined)
        return ended(out, InversionState::refused, "the fall says nothing of the sheet");
    out.state = InversionState::determined;
    return out;
}

}  // namespace ebbtide::sheet
