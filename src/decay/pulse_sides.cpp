#include "decay/pulse_sides.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <boost/math/distributions/students_t.hpp>
#include <boost/math/tools/roots.hpp>
#include <cmath>
#include <utility>
#include <vector>

#include "basis/number_text.hpp"
#include "decay/adequacy.hpp"

namespace ebbtide::decay {
namespace {

constexpr std::size_t fewest = 16;
constexpr double slow_electrode = 1.0 / 50;
constexpr double too_small = 0.02;
constexpr double wave_too_small = 0.005;  // of r(0): what two paces 2 % apart leave at most
constexpr double no_pace = 0.25;          // u of a pace that says nothing
constexpr double chance = 0.001;

/// A law with its numbers: amplitudes, then shape.
struct Curve {
    fit::Law law;
    std::vector<double> amplitudes, shape;

    [[nodiscard]] std::vector<double> at(std::span<const double> x) const {
        return fit::values_of(law, amplitudes, shape, x);
    }
};

/// The first parameters are a law's amplitudes without the offset, the last its shape: those of the law
/// without offset.
Curve without_offset(LawKind kind, const Circumstances& circumstances,
                     const std::vector<double>& parameters) {
    Curve out{.law = law_of(kind, {}, circumstances), .amplitudes = {}, .shape = {}};
    const auto amplitudes = static_cast<std::ptrdiff_t>(out.law.amplitudes.size());
    const auto shape = static_cast<std::ptrdiff_t>(out.law.shape.size());
    out.amplitudes.assign(parameters.begin(), parameters.begin() + amplitudes);
    out.shape.assign(parameters.end() - shape, parameters.end());
    return out;
}

/// When the curve has fallen to 1/e of its start.
std::optional<double> time_of(const Curve& curve, double scale_s) {
    const auto above = [&](double t) {
        return curve.at(std::vector{0.0, t})[1] / curve.at(std::vector{0.0, t})[0] - std::exp(-1.0);
    };
    double high = scale_s;
    for (int turn = 0; !(above(high) < 0); ++turn, high *= 2)
        if (turn == 60) return std::nullopt;
    std::uintmax_t steps = 200;
    const auto bracket =
        boost::math::tools::toms748_solve(above, 0.0, high, 1 - std::exp(-1.0), above(high),
                                          boost::math::tools::eps_tolerance<double>(48), steps);
    return (bracket.first + bracket.second) / 2;
}

/// end_V - share r(t), with r a curve that runs at a pace of its own: by its time to 1/e, the only shape
/// parameter. `time_s` is that of the curve at its own pace.
fit::Law mirrored(const Curve& curve, double time_s, double lag_s) {
    fit::Law law;
    law.name = "charging side";
    law.amplitudes = {"end_V", "share"};
    law.shape = {{.name = "time_s"}};
    law.slopes = {{1, 0}};
    law.from_zero = true;
    law.evaluate = [curve, time_s, lag_s](std::span<const double> x, std::span<const double> theta,
                                          fit::Block columns, fit::Block slopes) {
        // A sensor's lag is taken to run at the same pace: of no account while the paces are nearly equal.
        std::vector<double> t(x.size());
        const auto value_at_pace = [&](double pace) {
            for (std::size_t i = 0; i < x.size(); ++i) t[i] = x[i] / theta[0] * time_s * pace;
            return curve.at(t);
        };
        const std::vector<double> value = value_at_pace(1);
        for (std::size_t i = 0; i < x.size(); ++i) {
            const auto row = static_cast<Eigen::Index>(i);
            columns(row, 0) = lag_s > 0 ? -std::expm1(-t[i] / lag_s) : 1;
            columns(row, 1) = -value[i];
        }
        if (slopes.cols() == 0) return;
        // Central differences of fourth order: right to 1e-12 of the amplitude.
        const double step = 1e-3;
        const auto early = value_at_pace(std::exp(step)), late = value_at_pace(std::exp(-step)),
                   earlier = value_at_pace(std::exp(2 * step)), later = value_at_pace(std::exp(-2 * step));
        for (std::size_t i = 0; i < x.size(); ++i)
            slopes(static_cast<Eigen::Index>(i), 0) =
                -(8 * (late[i] - early[i]) - (later[i] - earlier[i])) / (12 * step);
    };
    return law;
}

}  // namespace

ComparedSides compare_sides(const LawModel& falling, const Circumstances& circumstances,
                            const fit::Curve& fall, const fit::Curve& charging, double electrode_rise_s) {
    const auto not_compared = [](std::string why) { return ComparedSides{std::nullopt, std::move(why)}; };
    if (charging.size() < fewest)
        return not_compared(fmt::format("fewer than {} samples of the charging side", fewest));
    const fit::Spread spread{fit::Scatter::correlated_residuals};
    const LawKind kind = falling.kind;
    const fit::Fit& of_fall = falling.fit;
    if (!of_fall.determined()) return not_compared("the fall does not determine its law");
    std::vector<double> parameters;
    for (const fit::Parameter& p : of_fall.parameters) parameters.push_back(p.value);

    // Charged from empty: no short hold; the sensor starts at zero.
    Circumstances undisturbed = circumstances, from_empty = circumstances;
    undisturbed.hold_s = from_empty.hold_s = std::nullopt;
    undisturbed.lag_s = 0;
    from_empty.start_ratio = 0;
    const double scale_s = fall.x.back() > 0 ? fall.x.back() : 1;
    struct Sides {
        double falling_s = 0;
        fit::Law law;  ///< of the charging side
        fit::Fit charging;
    };
    const auto sides_at = [&](const std::vector<double>& p,
                              std::optional<double> near_s) -> std::optional<Sides> {
        const auto time_s = time_of(without_offset(kind, undisturbed, p), scale_s);
        if (!time_s) return std::nullopt;
        const fit::Law law = mirrored(without_offset(kind, from_empty, p), *time_s, circumstances.lag_s);
        return Sides{
            *time_s, law,
            near_s ? fit::fit_from(law, charging, spread, {*near_s}) : fit::fit(law, charging, spread)};
    };
    std::optional<Sides> sides = sides_at(parameters, {});
    if (!sides) return not_compared("the law of the fall never comes to 1/e of its start");
    if (electrode_rise_s > slow_electrode * sides->falling_s)
        return not_compared(
            fmt::format("the electrode took {} s to its voltage, more than a fiftieth of the {} s in which "
                        "the fall comes to 1/e: its own way up would be taken for the specimen's",
                        significant_text(electrode_rise_s, 2), significant_text(sides->falling_s, 3)));
    PulseSides out;
    out.falling_time_s = sides->falling_s;
    const double whole_V = std::abs(without_offset(kind, undisturbed, parameters).at(std::vector{0.0})[0]);
    const auto left_by = [&](const fit::Fit& mirror) {
        return std::sqrt(mirror.rss / static_cast<double>(mirror.points)) / whole_V;
    };
    const auto describes = [](const fit::Law& law, const fit::Fit& fit, const fit::Curve& curve) {
        const fit::CurveStore ordered = fit::sorted(curve);
        const auto adequacy = judge_adequacy(law, fit, ordered.view());
        return adequacy ? adequacy->adequate : true;
    };
    const auto of_another_shape = [&](const fit::Fit& mirror) {
        return out.left >= wave_too_small && !describes(sides->law, mirror, charging) &&
               describes(falling.law, of_fall, fall);
    };

    const bool has_pace = [&] {
        if (!sides->charging.determined()) return false;
        const fit::Parameter& pace = *sides->charging.find("time_s");
        const auto count = static_cast<Eigen::Index>(parameters.size());
        const double difference = pace.value / sides->falling_s - 1;
        Eigen::VectorXd slope = Eigen::VectorXd::Zero(count);
        for (Eigen::Index k = 0; k < count; ++k) {
            const double u = std::sqrt(of_fall.covariance(k, k));
            if (!(u > 0)) continue;
            std::vector<double> moved = parameters;
            moved[static_cast<std::size_t>(k)] += u / 4;
            const std::optional<Sides> other = sides_at(moved, pace.value);
            if (!other || !other->charging.ok()) return false;
            slope(k) = (other->charging.find("time_s")->value / other->falling_s - 1 - difference) / (u / 4);
        }
        const double u_difference =
            std::hypot(*pace.standard_error / sides->falling_s,
                       std::sqrt(std::max(0.0, slope.dot(of_fall.covariance * slope))));
        if (!(u_difference < no_pace)) return false;
        out.charging_time_s = pace.value;
        out.difference = difference;
        out.u_difference = u_difference;
        return true;
    }();
    if (!has_pace) {
        const fit::Fit mirror = fit::fit(sides->law, charging, spread, {sides->falling_s});
        const auto unclear = [&] {
            return not_compared("the charging side is too short or too noisy to tell its pace");
        };
        if (!mirror.ok()) return unclear();
        out.left = left_by(mirror);
        out.agree = !of_another_shape(mirror);
        return out.agree ? unclear() : ComparedSides{out, ""};
    }
    out.left = left_by(sides->charging);
    const boost::math::students_t student(
        std::max(1.0, std::min(of_fall.degrees_of_freedom, sides->charging.degrees_of_freedom)));
    const double reach = boost::math::quantile(boost::math::complement(student, chance / 2));
    // A side of another shape, such as that of a clamp that bites on the way, need not run at another pace.
    out.agree = std::abs(*out.difference) <= std::max(too_small, reach * *out.u_difference) &&
                !of_another_shape(sides->charging);
    return {out, ""};
}

}  // namespace ebbtide::decay
