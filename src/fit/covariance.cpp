#include "fit/covariance.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

namespace ebbtide::fit {
namespace {

constexpr double factor_e = 1;  // standard error of log theta from which a parameter counts as not determined
constexpr double lost_curvature = 1e-7;  // reciprocal condition of the scaled Jacobian

/// Columns of the full Jacobian that are free to vary, [amplitudes | log theta], and the inverse of their
/// triangle.
struct Directions {
    std::vector<Eigen::Index> kept;  // positions among all parameters
    Eigen::MatrixXd inverse;         // R^-1: covariance is inverse * inverse^T times the variance
    double reciprocal_condition = 0;
};

Directions directions_of(const Projection& at, const std::vector<Eigen::Index>& kept) {
    Directions out;
    out.kept = kept;
    const auto count = static_cast<Eigen::Index>(kept.size());
    Eigen::MatrixXd rows(at.full_triangle.rows(), count);
    Eigen::VectorXd length(count);
    for (Eigen::Index j = 0; j < count; ++j) {
        rows.col(j) = at.full_triangle.col(kept[static_cast<std::size_t>(j)]);
        length(j) = rows.col(j).norm();
        if (length(j) > 0) rows.col(j) /= length(j);
    }
    Small triangle = Small::Zero(count, count);
    absorb(triangle, rows);
    const Eigen::JacobiSVD<Eigen::MatrixXd> singular{Eigen::MatrixXd(triangle)};
    const auto& values = singular.singularValues();
    out.reciprocal_condition = count > 0 && values(0) > 0 ? values(count - 1) / values(0) : 0;
    const Eigen::MatrixXd identity = Eigen::MatrixXd::Identity(count, count);
    out.inverse = triangle.triangularView<Eigen::Upper>().solve(identity);
    for (Eigen::Index j = 0; j < count; ++j) out.inverse.row(j) /= length(j);
    return out;
}

/// Rows of the full Jacobian turned into an orthonormal basis (J R^-1), block by block.
template <class Take>
void for_each_basis_row(const Problem& problem, const Descent& descent, const Directions& directions,
                        Take take) {
    const Law& law = problem.law();
    const auto columns = static_cast<Eigen::Index>(law.amplitudes.size());
    const std::vector<double> theta = exponentials_of(descent.log_theta);
    problem.for_each_block(theta, true, [&](Block rows, std::size_t first) {
        Eigen::MatrixXd jacobian =
            Eigen::MatrixXd::Zero(rows.rows(), static_cast<Eigen::Index>(law.parameter_count()));
        jacobian.leftCols(columns) = rows.leftCols(columns);
        for (std::size_t s = 0; s < law.slopes.size(); ++s) {
            const auto column = static_cast<Eigen::Index>(law.slopes[s].column);
            jacobian.col(columns + static_cast<Eigen::Index>(law.slopes[s].parameter)) +=
                descent.at.amplitude(column) * rows.col(columns + static_cast<Eigen::Index>(s));
        }
        Eigen::MatrixXd kept(rows.rows(), static_cast<Eigen::Index>(directions.kept.size()));
        for (Eigen::Index j = 0; j < kept.cols(); ++j)
            kept.col(j) = jacobian.col(directions.kept[static_cast<std::size_t>(j)]);
        const Eigen::MatrixXd basis = kept * directions.inverse;
        for (Eigen::Index i = 0; i < basis.rows(); ++i)
            take(first + static_cast<std::size_t>(i), basis.row(i));
    });
}

std::vector<double> residuals_of(const Problem& problem, const Descent& descent) {
    std::vector<double> out(problem.curve().size());
    const std::vector<double> theta = exponentials_of(descent.log_theta);
    problem.for_each_block(theta, false, [&](Block rows, std::size_t first) {
        const Eigen::VectorXd left =
            rows.col(rows.cols() - 1) - rows.leftCols(descent.at.amplitude.size()) * descent.at.amplitude;
        std::ranges::copy(left, out.begin() + static_cast<std::ptrdiff_t>(first));
    });
    return out;
}

/// Covariance of the noise in the basis (basis^T * Gamma * basis): the white part is the identity, the
/// band-limited part is carried along the points, as exp(-distance) multiplies. per_sigma: the noise is that
/// of y, not of y / sigma.
Eigen::MatrixXd carried_noise(const Problem& problem, const Descent& descent, const Directions& directions,
                              const LagNoise& noise, bool per_sigma) {
    const auto count = static_cast<Eigen::Index>(directions.kept.size());
    const Curve& curve = problem.curve();
    Eigen::MatrixXd squares = Eigen::MatrixXd::Zero(count, count), crossed = squares;
    Eigen::RowVectorXd carried = Eigen::RowVectorXd::Zero(count);
    double before = 0;
    for_each_basis_row(problem, descent, directions, [&](std::size_t i, const auto& basis_row) {
        const double scale = per_sigma && !curve.sigma.empty() ? problem.sigma_unit() / curve.sigma[i] : 1;
        const Eigen::RowVectorXd row = scale * basis_row;
        carried *=
            i > 0 && noise.correlation > 0 ? std::exp(-(curve.x[i] - before) / noise.correlation) : 0.0;
        squares += row.transpose() * row;
        crossed += row.transpose() * carried;
        carried += row;
        before = curve.x[i];
    });
    const double band = noise.band * noise.band;
    return noise.variance() * squares + band * (crossed + crossed.transpose());
}

/// Says which parameters say the same: the two that lean most on the direction in which the curvature is
/// lost.
std::string names_of_merged(const Fit& fit, const Eigen::MatrixXd& covariance,
                            const std::vector<Eigen::Index>& kept) {
    double closest = 0;
    std::string names;
    for (std::size_t a = 0; a < kept.size(); ++a)
        for (std::size_t b = a + 1; b < kept.size(); ++b) {
            const auto i = static_cast<Eigen::Index>(a), j = static_cast<Eigen::Index>(b);
            const double correlation =
                std::abs(covariance(i, j)) / std::sqrt(covariance(i, i) * covariance(j, j));
            if (!(correlation > closest)) continue;
            closest = correlation;
            names = fit.parameters[static_cast<std::size_t>(kept[a])].name + " and " +
                    fit.parameters[static_cast<std::size_t>(kept[b])].name;
        }
    return names;
}

}  // namespace

void add_errors(Fit& fit, const Problem& problem, const Descent& descent, const std::vector<double>& start,
                const Bounds& bounds, const Spread& spread) {
    const Law& law = problem.law();
    const std::size_t columns = law.amplitudes.size(), shapes = law.shape.size();
    const auto all = static_cast<Eigen::Index>(columns + shapes);
    fit.covariance = Eigen::MatrixXd::Zero(all, all);

    std::vector<Eigen::Index> kept;
    for (std::size_t j = 0; j < columns; ++j) {
        fit.parameters[j].standing = Standing::free;
        kept.push_back(static_cast<Eigen::Index>(j));
    }
    for (std::size_t k = 0; k < shapes; ++k) {
        Standing& standing = fit.parameters[columns + k].standing;
        const auto column = static_cast<Eigen::Index>(columns + k);
        standing = Standing::free;
        if (bounds.held[k])
            standing = Standing::held;
        else if (descent.log_theta[k] <= bounds.low[k] || descent.log_theta[k] >= bounds.high[k])
            standing = Standing::at_bound;
        else if (!(descent.at.full_triangle.col(column).norm() > 1e-14 * descent.at.y_length))
            standing = descent.log_theta[k] == start[k] ? Standing::did_not_move : Standing::not_determined;
        else
            kept.push_back(column);
    }

    const auto points = static_cast<double>(fit.points);
    const auto free = static_cast<double>(kept.size());
    fit.degrees_of_freedom = points - free;
    fit.effective_points = points;
    const Directions directions = directions_of(descent.at, kept);
    // Amplitudes and residuals are counted in y_unit / sigma_unit.
    const double unit = problem.y_unit() / problem.sigma_unit();
    Eigen::MatrixXd covariance = directions.inverse * directions.inverse.transpose();
    if (spread.scatter == Scatter::stated) {
        covariance *= 1 / (unit * unit);
    } else if (spread.scatter == Scatter::from_residuals) {
        covariance *= descent.at.rss / fit.degrees_of_freedom;
    } else {
        const bool stated = spread.scatter == Scatter::stated_noise;
        LagNoise noise = spread.noise;
        if (stated) {
            noise.white /= problem.y_unit();
            noise.band /= problem.y_unit();
        } else {
            noise = lag_noise_of(problem.curve().x, residuals_of(problem, descent));
        }
        Eigen::MatrixXd carried = carried_noise(problem, descent, directions, noise, stated);
        const double interval =
            (problem.curve().x.back() - problem.curve().x.front()) / std::max(1.0, points - 1);
        fit.effective_points = std::max(free + 1, points / noise.variance_ratio(interval));
        fit.degrees_of_freedom = fit.effective_points - free;
        if (!stated) {
            // Residuals are smaller than errors by what the fit has swallowed: trace(basis^T Gamma basis) out
            // of n.
            const double swallowed = std::min(0.9, carried.trace() / (points * noise.variance()));
            if (noise.variance() > 0) carried /= 1 - swallowed;
        }
        covariance = directions.inverse * carried * directions.inverse.transpose();
        fit.noise = LagNoise{noise.white * unit, noise.band * unit, noise.correlation};
        if (stated) fit.noise = spread.noise;
    }

    fit.told_apart = directions.reciprocal_condition > lost_curvature;
    if (!fit.told_apart) fit.merged = names_of_merged(fit, covariance, kept);
    if (law.interchangeable && fit.told_apart)
        for (std::size_t a = columns; a < kept.size(); ++a)
            for (std::size_t b = a + 1; b < kept.size(); ++b) {
                const auto i = static_cast<Eigen::Index>(a), j = static_cast<Eigen::Index>(b);
                const auto first = static_cast<std::size_t>(kept[a]),
                           second = static_cast<std::size_t>(kept[b]);
                const double apart =
                    std::abs(descent.log_theta[first - columns] - descent.log_theta[second - columns]);
                const double variance = covariance(i, i) + covariance(j, j) - 2 * covariance(i, j);
                if (apart * apart > 4 * variance) continue;
                fit.told_apart = false;
                fit.merged = fit.parameters[first].name + " and " + fit.parameters[second].name;
            }

    // From logarithms to values, from scaled units to the caller's.
    Eigen::VectorXd scale(static_cast<Eigen::Index>(kept.size()));
    std::vector<bool> lost(shapes, false);
    for (std::size_t a = 0; a < kept.size(); ++a) {
        const auto i = static_cast<Eigen::Index>(a);
        const auto position = static_cast<std::size_t>(kept[a]);
        scale(i) = position < columns ? problem.y_unit() : fit.parameters[position].value;
        if (position >= columns && !(covariance(i, i) < factor_e * factor_e)) {
            fit.parameters[position].standing = Standing::not_determined;
            lost[position - columns] = true;
        }
    }
    for (std::size_t k = 0; k < shapes; ++k)
        lost[k] = lost[k] || fit.parameters[columns + k].standing == Standing::did_not_move ||
                  fit.parameters[columns + k].standing == Standing::not_determined;
    for (const Slope& slope : law.slopes)
        if (lost[slope.parameter]) fit.parameters[slope.column].standing = Standing::not_determined;
    covariance = scale.asDiagonal() * covariance * scale.asDiagonal();
    for (std::size_t a = 0; a < kept.size(); ++a) {
        const auto i = static_cast<Eigen::Index>(a);
        Parameter& parameter = fit.parameters[static_cast<std::size_t>(kept[a])];
        if (!std::isfinite(covariance(i, i)) && parameter.standing == Standing::free)
            parameter.standing = Standing::not_determined;
        if (parameter.standing != Standing::free) continue;
        parameter.standard_error = std::sqrt(std::max(0.0, covariance(i, i)));
        for (std::size_t b = 0; b < kept.size(); ++b)
            if (fit.parameters[static_cast<std::size_t>(kept[b])].standing == Standing::free)
                fit.covariance(kept[a], kept[b]) = covariance(i, static_cast<Eigen::Index>(b));
    }
}

}  // namespace ebbtide::fit
