#include "fit/passage.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <boost/math/tools/toms748_solve.hpp>
#include <cmath>
#include <limits>

#include "fit/descent.hpp"
#include "fit/rise.hpp"
#include "fit/starts.hpp"

namespace ebbtide::fit {
namespace {

constexpr double confidence = 0.95;
constexpr double closeness = 1e-3;  // of the ends, in units of half the interval
constexpr int evaluations = 40;
constexpr double least_scatter = 1e-9;  // of y: what rounding may hide
constexpr double held_to = 0.01;        // of its standard deviation: how hard the law is held to a level
constexpr double marker = std::numeric_limits<double>::infinity();  // abscissa of the row that holds it

/// Steps within the record, then by factors up to the farthest.
std::vector<double> lookouts(double last) {
    constexpr int within = 64;
    std::vector<double> out;
    for (int i = 0; i < within; ++i) out.push_back(last * i / within);
    for (double x = last; x < last * Passages::farthest; x *= 1.5) out.push_back(x);
    out.push_back(last * Passages::farthest);
    return out;
}

/// A law with its parameters, units of the caller.
struct Settled {
    std::vector<double> amplitudes, theta;
};

/// The last place where the law comes below the level for good.
std::optional<double> passage_of(const Law& law, const Settled& at, const Condition& condition, double last) {
    const auto values = [&](const std::vector<double>& x) {
        return values_of(law, at.amplitudes, at.theta, x);
    };
    const double start = condition.share_of_start != 0 ? values({0}).front() : 0;
    const double level = condition.target + condition.share_of_start * start;
    const double side = condition.falling ? 1 : -1;
    const std::vector<double> x = lookouts(last);
    std::vector<double> height = values(x);
    for (double& value : height) value = side * (value - level);
    std::size_t below = x.size();
    while (below > 0 && height[below - 1] <= 0) --below;
    if (below == 0 || below == x.size() || !std::isfinite(height[below - 1])) return std::nullopt;
    std::uintmax_t turns = 100;
    const auto found = boost::math::tools::toms748_solve(
        [&](double where) { return side * (values({where}).front() - level); }, x[below - 1], x[below],
        height[below - 1], height[below], boost::math::tools::eps_tolerance<double>(50), turns);
    return (found.first + found.second) / 2;
}

}  // namespace

double Passage::chance_before(double x_asked) const {
    if (shape.empty()) return 0;
    const auto distribution = [&](double deviations) {
        if (std::isinf(degrees_of_freedom)) return boost::math::cdf(boost::math::normal(), deviations);
        return boost::math::cdf(boost::math::students_t(degrees_of_freedom), deviations);
    };
    const double at = std::log(x_asked);
    const auto next = std::ranges::find_if(shape, [&](const PassagePoint& p) { return p.x >= x_asked; });
    if (next == shape.begin() && next->x == x_asked) return distribution(next->deviations);
    if (shape.size() == 1) return x_asked < shape.front().x ? 0 : 1;
    // Between two points, or along the line through the first or last two; where the passage may never
    // come, the last point is the farthest and says so.
    const auto right = next == shape.begin() ? next + 1 : next == shape.end() ? next - 1 : next;
    const auto left = right - 1;
    if (next == shape.end() && !high) return distribution(right->deviations);
    const double share = (at - std::log(left->x)) / (std::log(right->x) - std::log(left->x));
    return distribution(left->deviations + share * (right->deviations - left->deviations));
}

/// The points, and one more row that holds the law to a condition at some x.
struct Passages::Held {
    Law law;          // as given
    Law with_marker;  // the same; at the marker's abscissa the condition's left side
    Fit fit;
    Scatter scatter;
    double last = 0;
    bool determined = false;            // every parameter, and told apart
    double one_sign = 0;                // the sign that parts of a sum must have; 0: any
    Bounds bounds;                      // scaled
    CurveStore points;                  // means; the last one is the marker
    std::optional<Problem> held, bare;  // with the marker, and without
    Descent best;                       // of the means
    Settled settled;
    double small_fall = 0;                    // of the sum of squares: no need to go on for less
    double marker_x = 0, share_of_start = 0;  // scaled x

    /// Takes out of the means what leans on the law's directions at these shape parameters. The samples'
    /// residuals do not lean on them, those of means do a little, and would shift the best.
    void turn_away(const std::vector<double>& logs);
    /// Sigma in the units of the points.
    void lay_marker(const Condition& condition, double sigma);
    /// The bottom from there, with parts of the wrong sign left out one by one.
    [[nodiscard]] Descent descend_from(const Problem& on, std::vector<double> logs) const;
    /// The lowest of several bottoms where the parameters wander.
    [[nodiscard]] Descent lowest(const Problem& on, const std::vector<double>& logs) const;
    /// The same with the law held at the marker. `settled_above`: a bottom below this sum of squares will do.
    [[nodiscard]] Descent lowest_held(const std::vector<double>& logs, double good_enough) const;
    /// d (left side of the condition) / d [amplitudes | log theta] at the best, scaled.
    [[nodiscard]] Eigen::VectorXd gradient() const;
    /// Variance of the left side over its leverage: over what points of unit variance would give it, scaled.
    [[nodiscard]] double scatter_variance(const Eigen::VectorXd& gradient, double leverage) const;
};

void Passages::Held::turn_away(const std::vector<double>& logs) {
    const auto columns = static_cast<Eigen::Index>(law.amplitudes.size());
    const auto count = static_cast<Eigen::Index>(points.x.size() - 1);
    Eigen::MatrixXd jacobian = Eigen::MatrixXd::Zero(count, static_cast<Eigen::Index>(law.parameter_count()));
    Eigen::VectorXd residual(count), amplitudes(columns);
    for (Eigen::Index j = 0; j < columns; ++j)
        amplitudes(j) = settled.amplitudes[static_cast<std::size_t>(j)] / bare->y_unit();
    bare->for_each_block(exponentials_of(logs), true, [&](Block rows, std::size_t first) {
        const auto at = static_cast<Eigen::Index>(first);
        jacobian.block(at, 0, rows.rows(), columns) = rows.leftCols(columns);
        for (std::size_t s = 0; s < law.slopes.size(); ++s)
            jacobian.col(columns + static_cast<Eigen::Index>(law.slopes[s].parameter))
                .segment(at, rows.rows()) += amplitudes(static_cast<Eigen::Index>(law.slopes[s].column)) *
                                             rows.col(columns + static_cast<Eigen::Index>(s));
        residual.segment(at, rows.rows()) = rows.col(rows.cols() - 1) - rows.leftCols(columns) * amplitudes;
    });
    const Eigen::VectorXd leaning = jacobian * jacobian.colPivHouseholderQr().solve(residual);
    for (Eigen::Index i = 0; i < count; ++i) {
        const auto at = static_cast<std::size_t>(i);
        points.y[at] -= leaning(i) * points.sigma[at] / bare->sigma_unit() * bare->y_unit();
    }
}

void Passages::Held::lay_marker(const Condition& condition, double sigma) {
    points.y.back() = condition.target + condition.share_of_start * law.constant;
    points.sigma.back() = sigma;
    share_of_start = condition.share_of_start;
}

Descent Passages::Held::descend_from(const Problem& on, std::vector<double> logs) const {
    Descent end = descend(on, std::move(logs), bounds, evaluations, small_fall);
    if (one_sign == 0) return end;
    Bounds fewer = bounds;
    for (std::size_t left_out = 0; left_out + 1 < law.shape.size() && end.at.usable; ++left_out) {
        Eigen::Index wrong = 0;
        (one_sign * end.at.amplitude.head(static_cast<Eigen::Index>(law.shape.size()))).minCoeff(&wrong);
        if (one_sign * end.at.amplitude(wrong) >= 0) break;
        fewer.held_amplitudes.resize(law.amplitudes.size());
        fewer.held_amplitudes[static_cast<std::size_t>(wrong)] = 0;
        fewer.held[static_cast<std::size_t>(wrong)] = true;
        end = descend(on, end.log_theta, fewer, evaluations, small_fall);
    }
    return end;
}

Descent Passages::Held::lowest(const Problem& on, const std::vector<double>& logs) const {
    Descent out = descend_from(on, logs);
    if (one_sign == 0) return out;
    // What lies beyond the record hangs on the slowest part, which may hide in another valley.
    const auto slowest = static_cast<std::size_t>(std::ranges::max_element(logs) - logs.begin());
    for (const double times : {1.0, 30.0}) {
        std::vector<double> start(logs);
        start[slowest] =
            std::clamp(std::log(times * last / bare->x_unit()), bounds.low[slowest], bounds.high[slowest]);
        Descent end = descend_from(on, start);
        if (end.at.usable && !(end.at.rss >= out.at.rss)) out = std::move(end);
    }
    return out;
}

Descent Passages::Held::lowest_held(const std::vector<double>& logs, double good_enough) const {
    if (one_sign == 0) return descend_from(*held, logs);
    Descent out = descend_from(*held, logs);
    if (out.at.usable && out.at.rss < good_enough) return out;
    Descent other = lowest(*held, best.log_theta);
    return other.at.usable && !(other.at.rss >= out.at.rss) ? other : out;
}

Eigen::VectorXd Passages::Held::gradient() const {
    const auto columns = static_cast<Eigen::Index>(law.amplitudes.size());
    const auto slopes = static_cast<Eigen::Index>(law.slopes.size());
    Eigen::MatrixXd row(1, columns + slopes);
    const std::vector<double> x{marker};
    with_marker.evaluate(x, exponentials_of(best.log_theta), row.leftCols(columns), row.rightCols(slopes));
    Eigen::VectorXd out = Eigen::VectorXd::Zero(columns + static_cast<Eigen::Index>(law.shape.size()));
    out.head(columns) = row.row(0).head(columns);
    for (std::size_t s = 0; s < law.slopes.size(); ++s)
        out(columns + static_cast<Eigen::Index>(law.slopes[s].parameter)) +=
            best.at.amplitude(static_cast<Eigen::Index>(law.slopes[s].column)) *
            row(0, columns + static_cast<Eigen::Index>(s));
    return out;
}

double Passages::Held::scatter_variance(const Eigen::VectorXd& gradient, double leverage) const {
    const double unit = bare->y_unit() / bare->sigma_unit();
    if (determined) {
        Eigen::VectorXd by_value = gradient;  // per unit of the caller's parameters
        for (Eigen::Index i = 0; i < by_value.size(); ++i) {
            const auto p = static_cast<std::size_t>(i);
            by_value(i) /= p < law.amplitudes.size() ? bare->y_unit() : fit.parameters[p].value;
        }
        const double ratio = by_value.dot(fit.covariance * by_value) / leverage;
        if (ratio > 0 && std::isfinite(ratio)) return ratio;
    }
    if (scatter == Scatter::stated) return 1 / (unit * unit);
    const double free = fit.effective_points - fit.degrees_of_freedom;
    const double count = static_cast<double>(fit.points);
    double variance = fit.rss / (count - free);
    if (fit.noise)
        variance = fit.noise->variance() * fit.noise->variance_ratio(last / std::max(1.0, count - 1)) *
                   fit.effective_points / fit.degrees_of_freedom;
    return variance / (unit * unit);
}

Passages::Passages(const Law& law, const Curve& curve, const Fit& fit, Scatter scatter)
    : held_(std::make_unique<Held>()) {
    Held& held = *held_;
    held.law = law;
    held.fit = fit;
    held.scatter = scatter;
    held.last = curve.x.back();
    held.settled = {fit.amplitudes(law), fit.shape(law)};
    held.determined = fit.told_apart && std::ranges::all_of(fit.parameters, [](const Parameter& p) {
                          return p.standing == Standing::free || p.standing == Standing::held;
                      });
    Law& with_marker = held.with_marker;
    with_marker.name = law.name;
    with_marker.shape = law.shape;
    with_marker.amplitudes = law.amplitudes;
    with_marker.slopes = law.slopes;
    with_marker.from_zero = law.from_zero;
    with_marker.constant = law.constant;
    with_marker.evaluate = [&held](std::span<const double> x, std::span<const double> theta, Block columns,
                                   Block slopes) {
        if (x.empty() || x.back() != marker) return held.law.evaluate(x, theta, columns, slopes);
        const Eigen::Index before = columns.rows() - 1;
        if (before > 0)
            held.law.evaluate(x.first(x.size() - 1), theta, columns.topRows(before), slopes.topRows(before));
        Eigen::MatrixXd row(2, columns.cols()), row_slopes(2, slopes.cols());
        const std::vector<double> ends{held.marker_x, 0};
        held.law.evaluate(ends, theta, row, row_slopes);
        columns.row(before) = row.row(0) - held.share_of_start * row.row(1);
        if (slopes.cols() > 0)
            slopes.row(before) = row_slopes.row(0) - held.share_of_start * row_slopes.row(1);
    };

    const std::vector<double> on_samples =
        values_of(law, held.settled.amplitudes, held.settled.theta, curve.x);
    std::vector<double> residual(curve.y.begin(), curve.y.end());
    for (std::size_t i = 0; i < residual.size(); ++i) residual[i] -= on_samples[i];
    held.points = block_means({curve.x, residual, curve.sigma});
    const std::vector<double> on_means =
        values_of(law, held.settled.amplitudes, held.settled.theta, held.points.x);
    for (std::size_t i = 0; i < on_means.size(); ++i) held.points.y[i] += on_means[i];
    if (held.points.sigma.empty()) held.points.sigma.assign(held.points.x.size(), 1.0);
    if (law.interchangeable && law.shape.size() > 1 && !held.determined)
        held.one_sign = on_samples.front() < on_samples.back() ? -1 : 1;

    const Problem in_units(with_marker, curve);
    std::vector<std::optional<double>> pinned(law.shape.size());
    std::vector<double> logs;
    for (std::size_t k = 0; k < law.shape.size(); ++k) {
        const Parameter& shape = fit.parameters[law.amplitudes.size() + k];
        if (shape.standing == Standing::held) pinned[k] = shape.value;
        logs.push_back(std::log(shape.value / (law.shape[k].scales_with_x ? in_units.x_unit() : 1)));
    }
    held.bounds = search_range(in_units, pinned).bounds;

    held.points.x.push_back(marker);
    held.points.y.push_back(0);
    held.points.sigma.push_back(1);
    const Curve all = held.points.view();
    const std::size_t real = all.size() - 1;
    held.held.emplace(in_units, all);
    held.bare.emplace(in_units, Curve{all.x.first(real), all.y.first(real), all.sigma.first(real)});
    if (held.determined) held.turn_away(logs);
    held.best = held.lowest(*held.bare, logs);
    if (held.one_sign == 0 || !held.best.at.usable) return;
    for (std::size_t j = 0; j < law.amplitudes.size(); ++j)
        held.settled.amplitudes[j] =
            held.best.at.amplitude(static_cast<Eigen::Index>(j)) * held.bare->y_unit();
    for (std::size_t k = 0; k < law.shape.size(); ++k)
        held.settled.theta[k] =
            std::exp(held.best.log_theta[k]) * (law.shape[k].scales_with_x ? in_units.x_unit() : 1);
}

Passages::~Passages() = default;

Passage Passages::of(const Condition& condition) const {
    Held& held = *held_;
    Passage out;
    out.degrees_of_freedom = held.scatter == Scatter::stated || held.scatter == Scatter::stated_noise
                                 ? std::numeric_limits<double>::infinity()
                                 : held.fit.degrees_of_freedom;
    out.x = passage_of(held.law, held.settled, condition, held.last);
    if (!held.best.at.usable || !(held.fit.degrees_of_freedom > 0)) return out;

    const double x_unit = held.bare->x_unit(), y_unit = held.bare->y_unit();
    const double u = condition.u_target / y_unit;
    held.marker_x = out.x.value_or(held.last * farthest) / x_unit;
    held.lay_marker(condition, 1);
    double leverage = 1 / static_cast<double>(held.fit.points);
    Eigen::VectorXd gradient;
    if (held.determined) {
        gradient = held.gradient();
        leverage = held.best.at.full_triangle.transpose()
                       .triangularView<Eigen::Lower>()
                       .solve(gradient)
                       .squaredNorm();
    }
    const double variance =
        std::max(held.scatter_variance(gradient, leverage), least_scatter * least_scatter);
    held.lay_marker(condition,
                    std::sqrt(u * u / variance + held_to * held_to * leverage) * held.bare->sigma_unit());

    const double allowed = deviations_allowed(held.scatter, held.fit.degrees_of_freedom, confidence);
    held.small_fall = 1e-4 * allowed * allowed * variance;
    const double good_enough = held.best.at.rss + 0.25 * allowed * allowed * variance;
    double side = 1;
    const auto root_of_rise = [&](double log_x, std::vector<double>& logs) {
        held.marker_x = std::exp(log_x) / x_unit;
        const Descent end = held.lowest_held(logs, good_enough);
        if (!end.at.usable) return std::numeric_limits<double>::infinity();
        logs = end.log_theta;
        const double root = std::sqrt(std::max(0.0, end.at.rss - held.best.at.rss) / variance);
        if (std::isfinite(root)) out.shape.push_back({std::exp(log_x), side * root});
        return root / allowed;
    };
    const auto value_of = [](std::optional<double> log_x) -> std::optional<double> {
        if (!log_x) return std::nullopt;
        return std::exp(*log_x);
    };
    // Had it come before its end, the record would show it.
    Walk walk{.low = std::log(held.last),
              .high = std::log(held.last * farthest),
              .log_theta = held.best.log_theta,
              .closeness = closeness};
    if (out.x) {
        // First guess of the distance: u(left side) over its slope by log x.
        const std::vector<double> around{*out.x * (1 - 1e-4), *out.x * (1 + 1e-4)};
        const std::vector<double> left_side =
            values_of(held.law, held.settled.amplitudes, held.settled.theta, around);
        const double slope = std::abs(left_side[1] - left_side[0]) / (2e-4 * y_unit);
        const double u_log = std::sqrt(leverage * variance + u * u) / slope;
        const double step =
            allowed * (held.determined && std::isfinite(u_log) ? std::clamp(u_log, 1e-9, 0.3) : 0.1);
        out.shape.push_back({*out.x, 0});
        walk.from = std::log(*out.x);
        if (walk.from > walk.low) {
            side = -1;
            walk.step = -step;
            out.low = value_of(where_chance_ends(root_of_rise, walk));
        }
        walk.low = std::min(walk.low, walk.from);
        side = 1;
        walk.step = step;
        out.high = value_of(where_chance_ends(root_of_rise, walk));
    } else {
        // It ends above: all that can be known is before which time chance does not let it pass.
        side = -1;
        walk.from = walk.high;
        if (root_of_rise(walk.from, walk.log_theta) < 1) {
            walk.step = -1;
            out.low = value_of(where_chance_ends(root_of_rise, walk));
        }
    }
    std::ranges::stable_sort(out.shape, {}, &PassagePoint::x);
    const auto same_x = [](const PassagePoint& a, const PassagePoint& b) { return a.x == b.x; };
    out.shape.erase(std::unique(out.shape.begin(), out.shape.end(), same_x), out.shape.end());
    for (std::size_t i = 1; i < out.shape.size(); ++i)
        out.shape[i].deviations = std::max(out.shape[i].deviations, out.shape[i - 1].deviations);
    return out;
}

}  // namespace ebbtide::fit
