#include "decay/local_parabola.hpp"

#include <Eigen/Dense>
#include <cmath>

namespace ebbtide::decay {
namespace {

std::size_t distinct_times(const trace::Samples& samples) {
    std::size_t distinct = samples.empty() ? 0 : 1;
    for (std::size_t i = 1; i < samples.size() && distinct < 3; ++i)
        if (samples.time_s[i] > samples.time_s[i - 1]) ++distinct;
    return distinct;
}

}  // namespace

std::optional<LocalParabola> fit_local_parabola(const trace::Samples& samples, double at_s) {
    const std::size_t distinct = distinct_times(samples);
    if (distinct < 2) return {};
    const Eigen::Index terms = distinct >= 3 ? 3 : 2;
    const double reach =
        std::max(std::abs(samples.time_s.front() - at_s), std::abs(samples.time_s.back() - at_s));

    // In units of the reach the normal equations stay well conditioned.
    Eigen::Matrix3d normal = Eigen::Matrix3d::Zero();
    for (std::size_t i = 0; i < samples.size(); ++i) {
        const double u = (samples.time_s[i] - at_s) / reach;
        const Eigen::Vector3d row(1, u, u * u);
        normal.noalias() += row * row.transpose();
    }
    Eigen::Matrix3d inverse = Eigen::Matrix3d::Zero();
    inverse.topLeftCorner(terms, terms) =
        normal.topLeftCorner(terms, terms).ldlt().solve(Eigen::MatrixXd::Identity(terms, terms));

    LocalParabola fit;
    fit.at_s = at_s;
    fit.value_weights.resize(samples.size());
    fit.slope_weights.resize(samples.size());
    for (std::size_t i = 0; i < samples.size(); ++i) {
        const double u = (samples.time_s[i] - at_s) / reach;
        const Eigen::Vector3d weights = inverse * Eigen::Vector3d(1, u, u * u);
        fit.value_weights[i] = weights[0];
        fit.slope_weights[i] = weights[1] / reach;
        fit.value += weights[0] * samples.value[i];
        fit.slope += weights[1] / reach * samples.value[i];
        fit.curvature += 2 * weights[2] / (reach * reach) * samples.value[i];
    }
    if (!std::isfinite(fit.value) || !std::isfinite(fit.slope) || !std::isfinite(fit.curvature)) return {};
    return fit;
}

}  // namespace ebbtide::decay
