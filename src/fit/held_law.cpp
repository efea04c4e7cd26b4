#include "fit/held_law.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

#include "fit/starts.hpp"

namespace ebbtide::fit {
namespace {

constexpr int evaluations = 40;         // a descent starts next to its end, or is given up
constexpr double least_scatter = 1e-9;  // of y: what rounding may hide
constexpr double held_to = 0.01;        // of its standard deviation: how hard the law is held to a level
constexpr double marker = std::numeric_limits<double>::infinity();  // abscissa of the row that holds it

}  // namespace

HeldLaw::HeldLaw(const Law& law, const Curve& curve, const Fit& fit, Scatter scatter)
    : law_(law),
      fit_(fit),
      scatter_(scatter),
      last_(curve.x.back()),
      amplitudes_(fit.amplitudes(law)),
      theta_(fit.shape(law)) {
    determined_ = fit.told_apart && std::ranges::all_of(fit.parameters, [](const Parameter& p) {
                      return p.standing == Standing::free;
                  });
    with_marker_.name = law.name;
    with_marker_.shape = law.shape;
    with_marker_.amplitudes = law.amplitudes;
    with_marker_.slopes = law.slopes;
    with_marker_.from_zero = law.from_zero;
    with_marker_.constant = law.constant;
    with_marker_.evaluate = [this](std::span<const double> x, std::span<const double> theta, Block columns,
                                   Block slopes) {
        if (x.empty() || x.back() != marker) return law_.evaluate(x, theta, columns, slopes);
        const Eigen::Index before = columns.rows() - 1;
        if (before > 0)
            law_.evaluate(x.first(x.size() - 1), theta, columns.topRows(before), slopes.topRows(before));
        Eigen::MatrixXd row(2, columns.cols()), row_slopes(2, slopes.cols());
        const std::vector<double> ends{marker_x_, 0};
        law_.evaluate(ends, theta, row, row_slopes);
        columns.row(before) = row.row(0) - share_of_start_ * row.row(1);
        if (slopes.cols() > 0) slopes.row(before) = row_slopes.row(0) - share_of_start_ * row_slopes.row(1);
    };

    const std::vector<double> on_samples = values_of(law, amplitudes_, theta_, curve.x);
    std::vector<double> residual(curve.y.begin(), curve.y.end());
    for (std::size_t i = 0; i < residual.size(); ++i) residual[i] -= on_samples[i];
    points_ = block_means({curve.x, residual, curve.sigma});
    const std::vector<double> on_means = values_of(law, amplitudes_, theta_, points_.x);
    for (std::size_t i = 0; i < on_means.size(); ++i) points_.y[i] += on_means[i];
    if (points_.sigma.empty()) points_.sigma.assign(points_.x.size(), 1.0);
    if (law.interchangeable && law.shape.size() > 1 && !determined_)
        one_sign_ = on_samples.front() < on_samples.back() ? -1 : 1;

    const Problem in_units(with_marker_, curve);
    const auto unit_of = [&](std::size_t k) { return law.shape[k].scales_with_x ? in_units.x_unit() : 1; };
    std::vector<std::optional<double>> pinned(law.shape.size());
    std::vector<double> logs;
    for (std::size_t k = 0; k < law.shape.size(); ++k) {
        if (fit.parameters[law.amplitudes.size() + k].standing == Standing::held) pinned[k] = theta_[k];
        logs.push_back(std::log(theta_[k] / unit_of(k)));
    }
    bounds_ = search_range(in_units, pinned).bounds;

    points_.x.push_back(marker);
    points_.y.push_back(0);
    points_.sigma.push_back(1);
    const Curve all = points_.view();
    const std::size_t real = all.size() - 1;
    held_.emplace(in_units, all);
    bare_.emplace(in_units, Curve{all.x.first(real), all.y.first(real), all.sigma.first(real)});
    if (determined_) turn_away(logs);
    best_ = lowest(*bare_, logs);
    if (one_sign_ == 0 || !best_.at.usable) return;
    for (std::size_t j = 0; j < law.amplitudes.size(); ++j)
        amplitudes_[j] = best_.at.amplitude(static_cast<Eigen::Index>(j)) * bare_->y_unit();
    for (std::size_t k = 0; k < law.shape.size(); ++k) theta_[k] = std::exp(best_.log_theta[k]) * unit_of(k);
}

std::vector<double> HeldLaw::values(const std::vector<double>& x) const {
    return values_of(law_, amplitudes_, theta_, x);
}

void HeldLaw::aim(const Condition& condition, double near, double allowed) {
    points_.y.back() = condition.target + condition.share_of_start * law_.constant;
    share_of_start_ = condition.share_of_start;
    marker_x_ = near / bare_->x_unit();
    u_ = condition.u_target / bare_->y_unit();
    leverage_ = 1 / static_cast<double>(fit_.points);  // that of a mean, where nothing better is known
    Eigen::VectorXd direction;
    if (determined_) {
        direction = gradient();
        const double found =
            best_.at.full_triangle.transpose().triangularView<Eigen::Lower>().solve(direction).squaredNorm();
        if (found > 0 && std::isfinite(found)) leverage_ = found;
    }
    variance_ = std::max(variance_over(direction, leverage_), least_scatter * least_scatter);
    points_.sigma.back() =
        std::sqrt(u_ * u_ / variance_ + held_to * held_to * leverage_) * bare_->sigma_unit();
    small_fall_ = 1e-4 * allowed * allowed * variance_;
    good_enough_ = best_.at.rss + 0.25 * allowed * allowed * variance_;
}

double HeldLaw::deviations_at(double x, std::vector<double>& log_theta) {
    marker_x_ = x / bare_->x_unit();
    Descent end = descend_from(*held_, log_theta);
    if (one_sign_ != 0 && !(end.at.usable && end.at.rss < good_enough_)) {
        Descent other = lowest(*held_, best_.log_theta);
        if (other.at.usable && !(other.at.rss >= end.at.rss)) end = std::move(other);
    }
    if (!end.at.usable) return std::numeric_limits<double>::infinity();
    log_theta = end.log_theta;
    return std::sqrt(std::max(0.0, end.at.rss - best_.at.rss) / variance_);
}

std::optional<double> HeldLaw::u_log(double x) const {
    const std::vector<double> around = values({x * (1 - 1e-4), x * (1 + 1e-4)});
    const double slope = std::abs(around[1] - around[0]) / (2e-4 * bare_->y_unit());
    const double out = std::sqrt(leverage_ * variance_ + u_ * u_) / slope;
    if (!determined_ || !std::isfinite(out)) return std::nullopt;
    return out;
}

void HeldLaw::turn_away(const std::vector<double>& log_theta) {
    const auto columns = static_cast<Eigen::Index>(law_.amplitudes.size());
    const auto count = static_cast<Eigen::Index>(points_.x.size() - 1);
    Eigen::MatrixXd jacobian =
        Eigen::MatrixXd::Zero(count, static_cast<Eigen::Index>(law_.parameter_count()));
    Eigen::VectorXd residual(count), amplitudes(columns);
    for (Eigen::Index j = 0; j < columns; ++j)
        amplitudes(j) = amplitudes_[static_cast<std::size_t>(j)] / bare_->y_unit();
    bare_->for_each_block(exponentials_of(log_theta), true, [&](Block rows, std::size_t first) {
        const auto at = static_cast<Eigen::Index>(first);
        jacobian.block(at, 0, rows.rows(), columns) = rows.leftCols(columns);
        for (std::size_t s = 0; s < law_.slopes.size(); ++s)
            jacobian.col(columns + static_cast<Eigen::Index>(law_.slopes[s].parameter))
                .segment(at, rows.rows()) += amplitudes(static_cast<Eigen::Index>(law_.slopes[s].column)) *
                                             rows.col(columns + static_cast<Eigen::Index>(s));
        residual.segment(at, rows.rows()) = rows.col(rows.cols() - 1) - rows.leftCols(columns) * amplitudes;
    });
    const Eigen::VectorXd leaning = jacobian * jacobian.colPivHouseholderQr().solve(residual);
    for (Eigen::Index i = 0; i < count; ++i) {
        const auto at = static_cast<std::size_t>(i);
        points_.y[at] -= leaning(i) * points_.sigma[at] / bare_->sigma_unit() * bare_->y_unit();
    }
}

Descent HeldLaw::descend_from(const Problem& on, std::vector<double> logs) const {
    Descent end = descend(on, std::move(logs), bounds_, evaluations, {.fall = small_fall_});
    if (one_sign_ == 0) return end;
    Bounds fewer = bounds_;
    for (std::size_t left_out = 0; left_out + 1 < law_.shape.size() && end.at.usable; ++left_out) {
        Eigen::Index wrong = 0;
        (one_sign_ * end.at.amplitude.head(static_cast<Eigen::Index>(law_.shape.size()))).minCoeff(&wrong);
        if (one_sign_ * end.at.amplitude(wrong) >= 0) break;
        fewer.held_amplitudes.resize(law_.amplitudes.size());
        fewer.held_amplitudes[static_cast<std::size_t>(wrong)] = 0;
        fewer.held[static_cast<std::size_t>(wrong)] = true;
        end = descend(on, end.log_theta, fewer, evaluations, {.fall = small_fall_});
    }
    return end;
}

Descent HeldLaw::lowest(const Problem& on, const std::vector<double>& logs) const {
    Descent out = descend_from(on, logs);
    if (one_sign_ == 0) return out;
    // What lies beyond the record hangs on the slowest part, which may hide in another valley.
    const auto slowest = static_cast<std::size_t>(std::ranges::max_element(logs) - logs.begin());
    for (const double times : {1.0, 30.0}) {
        std::vector<double> start(logs);
        start[slowest] = std::clamp(std::log(times * last_ / bare_->x_unit()), bounds_.low[slowest],
                                    bounds_.high[slowest]);
        Descent end = descend_from(on, start);
        if (end.at.usable && !(end.at.rss >= out.at.rss)) out = std::move(end);
    }
    return out;
}

Eigen::VectorXd HeldLaw::gradient() const {
    const auto columns = static_cast<Eigen::Index>(law_.amplitudes.size());
    const auto slopes = static_cast<Eigen::Index>(law_.slopes.size());
    Eigen::MatrixXd row(1, columns + slopes);
    const std::vector<double> x{marker};
    with_marker_.evaluate(x, exponentials_of(best_.log_theta), row.leftCols(columns), row.rightCols(slopes));
    Eigen::VectorXd out = Eigen::VectorXd::Zero(columns + static_cast<Eigen::Index>(law_.shape.size()));
    out.head(columns) = row.row(0).head(columns);
    for (std::size_t s = 0; s < law_.slopes.size(); ++s)
        out(columns + static_cast<Eigen::Index>(law_.slopes[s].parameter)) +=
            best_.at.amplitude(static_cast<Eigen::Index>(law_.slopes[s].column)) *
            row(0, columns + static_cast<Eigen::Index>(s));
    return out;
}

double HeldLaw::variance_over(const Eigen::VectorXd& gradient, double leverage) const {
    const double unit = bare_->y_unit() / bare_->sigma_unit();
    if (determined_) {
        Eigen::VectorXd by_value = gradient;  // per unit of the caller's parameters
        for (Eigen::Index i = 0; i < by_value.size(); ++i) {
            const auto p = static_cast<std::size_t>(i);
            by_value(i) /= p < law_.amplitudes.size() ? bare_->y_unit() : fit_.parameters[p].value;
        }
        const double ratio = by_value.dot(fit_.covariance * by_value) / leverage;
        if (ratio > 0 && std::isfinite(ratio)) return ratio;
    }
    if (scatter_ == Scatter::stated) return 1 / (unit * unit);
    const double free = fit_.effective_points - fit_.degrees_of_freedom;
    const double count = static_cast<double>(fit_.points);
    double variance = fit_.rss / (count - free);
    if (fit_.noise)
        variance = fit_.noise->variance() * fit_.noise->variance_ratio(last_ / std::max(1.0, count - 1)) *
                   fit_.effective_points / fit_.degrees_of_freedom;
    return variance / (unit * unit);
}

}  // namespace ebbtide::fit
