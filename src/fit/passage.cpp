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
constexpr int evaluations = 100;
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

/// The last place where the law comes below the level for good.
std::optional<double> passage_of(const Law& law, const Fit& fit, const Condition& condition, double last) {
    const std::vector<double> amplitudes = fit.amplitudes(law), theta = fit.shape(law);
    const double start = condition.share_of_start != 0
                             ? fit::values_of(law, amplitudes, theta, std::vector<double>{0}).front()
                             : 0;
    const double level = condition.target + condition.share_of_start * start;
    const double side = condition.falling ? 1 : -1;
    const auto above = [&](const std::vector<double>& x) {
        std::vector<double> out = values_of(law, amplitudes, theta, x);
        for (double& value : out) value = side * (value - level);
        return out;
    };
    const std::vector<double> x = lookouts(last);
    const std::vector<double> height = above(x);
    std::size_t below = x.size();
    while (below > 0 && height[below - 1] <= 0) --below;
    if (below == 0 || below == x.size() || !std::isfinite(height[below - 1])) return std::nullopt;
    const auto at = [&](double where) { return above({where}).front(); };
    std::uintmax_t turns = 100;
    const auto found =
        boost::math::tools::toms748_solve(at, x[below - 1], x[below], height[below - 1], height[below],
                                          boost::math::tools::eps_tolerance<double>(50), turns);
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
    Bounds bounds;
    CurveStore points;  // means; the last one is the marker
    std::optional<Problem> problem;
    std::optional<Problem> without_marker;
    std::vector<double> log_theta;            // of the best
    double rss = 0;                           // of the means at the best, scaled
    double marker_x = 0, share_of_start = 0;  // scaled x

    void lay_marker(const Condition& condition, double sigma) {
        points.y.back() = condition.target + condition.share_of_start * law.constant;
        points.sigma.back() = sigma;
        share_of_start = condition.share_of_start;
    }
    /// d (left side of the condition) / d [amplitudes | log theta] at the best, scaled.
    [[nodiscard]] Eigen::VectorXd gradient(const Projection& at) const {
        const auto columns = static_cast<Eigen::Index>(law.amplitudes.size());
        const auto slopes = static_cast<Eigen::Index>(law.slopes.size());
        Eigen::MatrixXd row(1, columns + slopes);
        const std::vector<double> x{marker};
        with_marker.evaluate(x, exponentials_of(log_theta), row.leftCols(columns), row.rightCols(slopes));
        Eigen::VectorXd out = Eigen::VectorXd::Zero(columns + static_cast<Eigen::Index>(law.shape.size()));
        out.head(columns) = row.row(0).head(columns);
        for (std::size_t s = 0; s < law.slopes.size(); ++s)
            out(columns + static_cast<Eigen::Index>(law.slopes[s].parameter)) +=
                at.amplitude(static_cast<Eigen::Index>(law.slopes[s].column)) *
                row(0, columns + static_cast<Eigen::Index>(s));
        return out;
    }
    /// Variance of the left side over what independent points of unit variance would give it, scaled.
    [[nodiscard]] double variance_of_rise(const Eigen::VectorXd& gradient, double leverage) const;
};

double Passages::Held::variance_of_rise(const Eigen::VectorXd& gradient, double leverage) const {
    const double weight_unit = without_marker->y_unit() / without_marker->sigma_unit();
    const bool determined = std::ranges::all_of(fit.parameters, [](const Parameter& p) {
        return p.standing == Standing::free || p.standing == Standing::held;
    });
    if (determined && leverage > 0 && std::isfinite(leverage)) {
        Eigen::VectorXd by_value = gradient;  // per unit of the caller's parameters
        for (Eigen::Index i = 0; i < by_value.size(); ++i) {
            const auto p = static_cast<std::size_t>(i);
            by_value(i) /= p < law.amplitudes.size() ? without_marker->y_unit() : fit.parameters[p].value;
        }
        const double variance = by_value.dot(fit.covariance * by_value);
        if (variance > 0) return variance / leverage;
    }
    if (scatter == Scatter::stated) return 1 / (weight_unit * weight_unit);
    const double points_used = static_cast<double>(fit.points);
    double variance = fit.rss / std::max(1.0, fit.degrees_of_freedom + points_used - fit.effective_points);
    if (fit.noise) {
        const double interval = last / std::max(1.0, points_used - 1);
        variance = fit.noise->variance() * fit.noise->variance_ratio(interval) * fit.effective_points /
                   std::max(1.0, fit.degrees_of_freedom);
    }
    return variance / (weight_unit * weight_unit);
}

Passages::Passages(const Law& law, const Curve& curve, const Fit& fit, Scatter scatter)
    : held_(std::make_unique<Held>()) {
    Held& held = *held_;
    held.law = law;
    held.fit = fit;
    held.scatter = scatter;
    held.last = curve.x.back();
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

    const std::vector<double> amplitudes = fit.amplitudes(law), theta = fit.shape(law);
    std::vector<double> residual = values_of(law, amplitudes, theta, curve.x);
    for (std::size_t i = 0; i < residual.size(); ++i) residual[i] = curve.y[i] - residual[i];
    held.points = block_means({curve.x, residual, curve.sigma});
    const std::vector<double> on_law = values_of(law, amplitudes, theta, held.points.x);
    for (std::size_t i = 0; i < on_law.size(); ++i) held.points.y[i] += on_law[i];
    if (held.points.sigma.empty()) held.points.sigma.assign(held.points.x.size(), 1.0);

    const Problem in_units(with_marker, curve);
    std::vector<std::optional<double>> pinned(law.shape.size());
    for (std::size_t k = 0; k < law.shape.size(); ++k) {
        const Parameter& shape = fit.parameters[law.amplitudes.size() + k];
        if (shape.standing == Standing::held) pinned[k] = shape.value;
        held.log_theta.push_back(
            std::log(shape.value / (law.shape[k].scales_with_x ? in_units.x_unit() : 1)));
    }
    held.bounds = search_range(in_units, pinned).bounds;

    held.points.x.push_back(marker);
    held.points.y.push_back(0);
    held.points.sigma.push_back(1);
    const Curve all = held.points.view();
    const std::size_t real = all.size() - 1;
    held.problem.emplace(in_units, all);
    held.without_marker.emplace(in_units, Curve{all.x.first(real), all.y.first(real), all.sigma.first(real)});
    const Descent best = descend(*held.without_marker, held.log_theta, held.bounds, evaluations);
    held.rss = best.at.rss;
    if (best.at.usable) held.log_theta = best.log_theta;
}

Passages::~Passages() = default;

Passage Passages::of(const Condition& condition) const {
    Held& held = *held_;
    Passage out;
    out.degrees_of_freedom = held.scatter == Scatter::stated || held.scatter == Scatter::stated_noise
                                 ? std::numeric_limits<double>::infinity()
                                 : held.fit.degrees_of_freedom;
    out.x = passage_of(held.law, held.fit, condition, held.last);
    if (!std::isfinite(held.rss) || !(held.fit.degrees_of_freedom > 0)) return out;

    const double x_unit = held.without_marker->x_unit(), y_unit = held.without_marker->y_unit();
    const double sigma_unit = held.without_marker->sigma_unit();
    held.lay_marker(condition, 1);
    held.marker_x = out.x.value_or(held.last * farthest) / x_unit;
    const Projection best =
        project(held.with_marker, held.without_marker->reduce(exponentials_of(held.log_theta)));
    if (!best.usable) return out;
    const Eigen::VectorXd gradient = held.gradient(best);
    const double leverage =
        best.full_triangle.transpose().triangularView<Eigen::Lower>().solve(gradient).squaredNorm();
    const double scatter = std::max(held.variance_of_rise(gradient, leverage), least_scatter * least_scatter);
    const double hardness = held_to * held_to * (leverage < 1 ? leverage : 1.0);
    const double u = condition.u_target / y_unit;
    held.lay_marker(condition, std::sqrt(u * u / scatter + hardness) * sigma_unit);

    const double allowed = deviations_allowed(held.scatter, held.fit.degrees_of_freedom, confidence);
    double side = 1;
    const auto root_of_rise = [&](double log_x, std::vector<double>& logs) {
        held.marker_x = std::exp(log_x) / x_unit;
        const Descent end = descend(*held.problem, logs, held.bounds, evaluations);
        if (!end.at.usable) return std::numeric_limits<double>::infinity();
        logs = end.log_theta;
        const double root = std::sqrt(std::max(0.0, end.at.rss - held.rss) / scatter);
        if (std::isfinite(root)) out.shape.push_back({std::exp(log_x), side * root});
        return root / allowed;
    };
    const auto value_of = [](std::optional<double> log_x) -> std::optional<double> {
        if (!log_x) return std::nullopt;
        return std::exp(*log_x);
    };
    Walk walk{.low = std::log(held.last * 1e-6),
              .high = std::log(held.last * farthest),
              .log_theta = held.log_theta,
              .closeness = closeness};
    if (out.x) {
        // First guess of the distance: u(left side) over its slope by log x.
        const double h = 1e-4;
        const auto left_side = [&](double x) {
            return values_of(held.law, held.fit.amplitudes(held.law), held.fit.shape(held.law),
                             std::vector<double>{x})
                .front();
        };
        const double slope =
            std::abs(left_side(*out.x * (1 + h)) - left_side(*out.x * (1 - h))) / (2 * h * y_unit);
        const double u_log = std::sqrt(leverage * scatter + u * u) / slope;
        const double step = allowed * (std::isfinite(u_log) ? std::clamp(u_log, 1e-9, 0.3) : 0.1);
        walk.from = std::log(*out.x);
        out.shape.push_back({*out.x, 0});
        walk.step = -step;
        side = -1;
        out.low = value_of(where_chance_ends(root_of_rise, walk));
        walk.step = step;
        side = 1;
        out.high = value_of(where_chance_ends(root_of_rise, walk));
    } else {
        // It ends above: all that is known is before which time chance does not let it pass.
        side = -1;
        walk.from = walk.high;
        std::vector<double> logs = held.log_theta;
        if (root_of_rise(walk.from, logs) < 1) {
            walk.step = -1;
            out.low = value_of(where_chance_ends(root_of_rise, walk));
        }
    }
    std::ranges::stable_sort(out.shape, {}, &PassagePoint::x);
    for (std::size_t i = 1; i < out.shape.size(); ++i)
        out.shape[i].deviations = std::max(out.shape[i].deviations, out.shape[i - 1].deviations);
    return out;
}

}  // namespace ebbtide::fit
