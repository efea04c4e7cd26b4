#include "fit/descent.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <limits>

namespace ebbtide::fit {
namespace {

constexpr double right_angle =
    1e-10;  // share of the residual along the Jacobian at which the bottom is proven
constexpr double near_enough = 1e-6;  // the same where progress ended: the sum of squares is right to 1e-12
constexpr double longest_step = 1.5;  // in log theta, a factor of 4.5
constexpr double rounding = std::numeric_limits<double>::epsilon();

double largest_of(const SmallVector& move) {
    return move.size() > 0 ? move.cwiseAbs().maxCoeff() : 0;
}

/// Parameters that may move: not held, and not pressed against a bound.
std::vector<Eigen::Index> movable(const Projection& at, const std::vector<double>& log_theta,
                                  const Bounds& bounds) {
    std::vector<Eigen::Index> out;
    const SmallVector downhill = at.jacobian.transpose() * at.residual;
    for (std::size_t k = 0; k < log_theta.size(); ++k) {
        const double push = downhill(static_cast<Eigen::Index>(k));
        if (bounds.held[k] || (log_theta[k] <= bounds.low[k] && push < 0) ||
            (log_theta[k] >= bounds.high[k] && push > 0))
            continue;
        out.push_back(static_cast<Eigen::Index>(k));
    }
    return out;
}

struct Step {
    SmallVector move;          // of every parameter; zero for those that stay
    double along = 0;          // share of the residual along the Jacobian
    double expected_fall = 0;  // of the sum of squares, on the linear picture
};

/// The damped step: least squares of [J; sqrt(damping) * scale] against [r; 0]. damping 0 is Gauss-Newton.
Step step_from(const Projection& at, const std::vector<Eigen::Index>& moving, const SmallVector& scale,
               double damping) {
    Step out;
    out.move = SmallVector::Zero(at.jacobian.cols());
    if (moving.empty()) return out;
    const auto count = static_cast<Eigen::Index>(moving.size());
    const Eigen::Index rows = at.residual.size();
    Eigen::MatrixXd system = Eigen::MatrixXd::Zero(rows + count, count);
    Eigen::VectorXd right = Eigen::VectorXd::Zero(rows + count);
    right.head(rows) = at.residual;
    for (Eigen::Index j = 0; j < count; ++j)
        system.col(j).head(rows) = at.jacobian.col(moving[static_cast<std::size_t>(j)]);
    const Eigen::MatrixXd jacobian = system.topRows(rows);
    const Eigen::ColPivHouseholderQR<Eigen::MatrixXd> plain(jacobian);
    Eigen::VectorXd turned = at.residual;
    turned.applyOnTheLeft(plain.householderQ().adjoint());
    const double length = at.residual.norm();
    out.along = length > 0 ? turned.head(std::min(plain.rank(), rows)).norm() / length : 0;

    for (Eigen::Index j = 0; j < count; ++j)
        system(rows + j, j) = std::sqrt(damping) * scale(moving[static_cast<std::size_t>(j)]);
    const Eigen::VectorXd move = Eigen::ColPivHouseholderQR<Eigen::MatrixXd>(system).solve(right);
    const Eigen::VectorXd left = at.residual - jacobian * move;
    out.expected_fall = at.rss - left.squaredNorm();
    // A long step keeps its direction, but a parameter that nothing depends on must not hold up the others.
    double largest = longest_step;
    for (Eigen::Index j = 0; j < count; ++j)
        if (jacobian.col(j).norm() > 1e-6 * length) largest = std::max(largest, std::abs(move(j)));
    for (Eigen::Index j = 0; j < count; ++j)
        out.move(moving[static_cast<std::size_t>(j)]) =
            std::clamp(move(j) * longest_step / largest, -longest_step, longest_step);
    return out;
}

std::vector<double> moved(const std::vector<double>& log_theta, const SmallVector& move,
                          const Bounds& bounds) {
    std::vector<double> out(log_theta);
    for (std::size_t k = 0; k < out.size(); ++k)
        out[k] = std::clamp(out[k] + move(static_cast<Eigen::Index>(k)), bounds.low[k], bounds.high[k]);
    return out;
}

}  // namespace

Descent descend(const Problem& problem, std::vector<double> log_theta, const Bounds& bounds,
                int most_evaluations, const Enough& enough) {
    Descent out;
    const auto look = [&](const std::vector<double>& logs) {
        ++out.evaluations;
        return project(problem.law(), problem.reduce(exponentials_of(logs)), bounds.held_amplitudes);
    };
    out.log_theta = std::move(log_theta);
    out.at = look(out.log_theta);
    out.outcome = Outcome::singular;
    if (!out.at.usable) return out;
    out.outcome = Outcome::stalled;
    const auto shapes = static_cast<Eigen::Index>(out.log_theta.size());

    SmallVector scale = SmallVector::Zero(shapes);
    double damping = 1e-4, widen = 4;
    while (out.evaluations < most_evaluations) {
        // Damping follows the steepest slope met so far, so that a parameter that has lost its hold is not
        // flung away.
        for (Eigen::Index k = 0; k < shapes; ++k)
            scale(k) = std::max(scale(k), out.at.jacobian.col(k).norm());
        SmallVector held_scale = scale;
        for (Eigen::Index k = 0; k < shapes; ++k)
            if (held_scale(k) == 0) held_scale(k) = 1;

        const auto moving = movable(out.at, out.log_theta, bounds);
        const Step step = step_from(out.at, moving, held_scale, damping);
        const double left_to_gain = step.along * step.along * out.at.rss;
        const bool at_bottom = step.along <= right_angle || out.at.rss == 0 || left_to_gain < enough.fall ||
                               left_to_gain < enough.share * out.at.rss;
        const double noise = rounding * out.at.y_length * std::sqrt(out.at.rss);
        if (at_bottom || largest_of(step.move) <= 4 * rounding) {
            out.outcome = Outcome::converged;
            return out;
        }
        const auto trial_log = moved(out.log_theta, step.move, bounds);
        const Projection trial = look(trial_log);
        if (trial.usable && trial.rss < out.at.rss) {
            const double ratio = (out.at.rss - trial.rss) / std::max(step.expected_fall, 1e-300);
            out.log_theta = trial_log;
            out.at = trial;
            // Nielsen's rule: damping falls with how well the linear picture foretold the step.
            damping *= std::max(0.1, 1 - std::pow(2 * std::min(ratio, 2.0) - 1, 3));
            damping = std::max(damping, 1e-18);
            widen = 4;
            continue;
        }
        // All that is left to gain, on the linear picture, is less than a sum of squares can still show.
        if (left_to_gain <= noise) {
            out.outcome = Outcome::converged;
            return out;
        }
        damping *= widen;
        widen *= 2;
        if (damping > 1e20) break;
    }
    const auto moving = movable(out.at, out.log_theta, bounds);
    if (step_from(out.at, moving, SmallVector::Ones(shapes), 0).along <= near_enough)
        out.outcome = Outcome::converged;
    return out;
}

void polish(const Problem& problem, Descent& descent, const Bounds& bounds) {
    const double y_length = descent.at.y_length;
    const auto look = [&](const std::vector<double>& logs, const SmallVector& about) {
        ++descent.evaluations;
        Projection at = project_about(problem.law(), problem.reduce_residual(exponentials_of(logs), about),
                                      about, bounds.held_amplitudes);
        at.y_length = y_length;
        return at;
    };
    const Projection first = look(descent.log_theta, descent.at.amplitude);
    if (!first.usable) return;
    descent.at = first;
    double before = std::numeric_limits<double>::infinity();
    for (int turn = 0; turn < 12; ++turn) {
        const auto moving = movable(descent.at, descent.log_theta, bounds);
        const Step step = step_from(descent.at, moving, SmallVector::Ones(descent.at.jacobian.cols()), 0);
        const double size = largest_of(step.move);
        // A step that no longer shrinks is rounding, or the surface is not quadratic here: then the descent
        // has the word.
        if (size <= 4 * rounding || size > 0.7 * before || size > 1e-3) return;
        before = size;
        const auto trial_log = moved(descent.log_theta, step.move, bounds);
        const Projection trial = look(trial_log, descent.at.amplitude);
        if (!trial.usable || trial.rss > descent.at.rss * (1 + 1e-9)) return;
        descent.log_theta = trial_log;
        descent.at = trial;
    }
}

}  // namespace ebbtide::fit
