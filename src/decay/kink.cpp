#include "decay/kink.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <limits>

namespace ebbtide::decay {
namespace {

struct Shape {
    double level = 0, slope = 0, curve = 0, kink_s = 0;  // level - slope * u + curve * u^2 after the kink
};

/// Means of at most `count` runs of neighbouring samples: a rough look need not be a slow one.
trace::SampleStore thinned(const trace::Samples& s, std::size_t count) {
    trace::SampleStore out;
    const std::size_t width = (s.size() + count - 1) / count;
    for (std::size_t i = 0; i < s.size(); i += width) {
        const std::size_t end = std::min(s.size(), i + width);
        double t = 0, v = 0;
        for (std::size_t k = i; k < end; ++k) {
            t += s.time_s[k];
            v += s.value[k];
        }
        const double n = static_cast<double>(end - i);
        out.time_s.push_back(t / n);
        out.value.push_back(v / n);
    }
    return out;
}

struct Scan {
    Shape shape;
    double squares = std::numeric_limits<double>::infinity();
};

// Before the kink there is the level alone: its derivative is 1 and the others are 0, whatever the sample. A
// hold may be a thousand times as long as the fall is looked at, so these samples are only counted and
// summed.

Scan fit_with_kink_at(const trace::Samples& s, double kink_s, double reach_s) {
    const std::size_t after = s.at_or_after(kink_s);
    Eigen::Matrix3d normal = Eigen::Matrix3d::Zero();
    Eigen::Vector3d right = Eigen::Vector3d::Zero();
    double squares = 0;
    normal(0, 0) = static_cast<double>(after);
    for (std::size_t i = 0; i < after; ++i) {
        right[0] += s.value[i];
        squares += s.value[i] * s.value[i];
    }
    for (std::size_t i = after; i < s.size(); ++i) {
        const double u = std::max(0.0, (s.time_s[i] - kink_s) / reach_s);
        const Eigen::Vector3d row(1, -u, u * u);
        normal.noalias() += row * row.transpose();
        right += row * s.value[i];
        squares += s.value[i] * s.value[i];
    }
    const Eigen::Vector3d x = normal.ldlt().solve(right);
    if (!x.allFinite()) return {};
    return {{x[0], x[1] / reach_s, x[2] / (reach_s * reach_s), kink_s}, squares - x.dot(right)};
}

/// The four derivatives at a sample: of level, slope, curve (both in units of the reach) and kink.
Eigen::Vector4d row_at(double t_s, const Shape& shape, double reach_s) {
    const double u = std::max(0.0, t_s - shape.kink_s) / reach_s;
    return {1, -u, u * u, u > 0 ? shape.slope - 2 * shape.curve * u * reach_s : 0.0};
}

/// Inverse of the normal matrix, scaled to a unit diagonal on the way (volts and seconds are not alike);
/// nothing when the samples do not determine the parameters.
std::optional<Eigen::Matrix4d> inverse_normal(const trace::Samples& s, const Shape& shape, double reach_s) {
    const std::size_t after = s.at_or_after(shape.kink_s);
    Eigen::Matrix4d normal = Eigen::Matrix4d::Zero();
    normal(0, 0) = static_cast<double>(after);
    for (const double t_s : s.time_s.subspan(after)) {
        const Eigen::Vector4d row = row_at(t_s, shape, reach_s);
        normal.noalias() += row * row.transpose();
    }
    const Eigen::Vector4d scale = normal.diagonal().cwiseSqrt();
    if (!(scale.minCoeff() > 0)) return {};
    const Eigen::Matrix4d scaled =
        scale.cwiseInverse().asDiagonal() * normal * scale.cwiseInverse().asDiagonal();
    const Eigen::FullPivLU<Eigen::Matrix4d> lu(scaled);
    if (lu.rcond() < 1e-12) return {};
    return scale.cwiseInverse().asDiagonal() * lu.inverse() * scale.cwiseInverse().asDiagonal();
}

trace::Samples up_to_reach(const trace::Samples& all, double kink_s, double reach_s) {
    return all.slice(0, all.at_or_after(kink_s + reach_s));
}

/// Gauss-Newton on all four parameters; nothing when the kink leaves [from_s, to_s].
std::optional<Shape> refine(const trace::Samples& all, Shape shape, double from_s, double to_s,
                            double reach_s) {
    for (int turn = 0; turn < 12; ++turn) {
        const trace::Samples s = up_to_reach(all, shape.kink_s, reach_s);
        const std::size_t at = s.at_or_after(shape.kink_s);
        if (s.size() < at + 4 || at < 2) return {};
        const auto inverse = inverse_normal(s, shape, reach_s);
        if (!inverse) return {};
        Eigen::Vector4d right = Eigen::Vector4d::Zero();
        for (std::size_t i = 0; i < at; ++i) right[0] += s.value[i] - shape.level;
        for (std::size_t i = at; i < s.size(); ++i) {
            const double u = std::max(0.0, s.time_s[i] - shape.kink_s);
            right += row_at(s.time_s[i], shape, reach_s) *
                     (s.value[i] - (shape.level - shape.slope * u + shape.curve * u * u));
        }
        const Eigen::Vector4d step = *inverse * right;
        if (!step.allFinite()) return {};
        shape.level += step[0];
        shape.slope += step[1] / reach_s;
        shape.curve += step[2] / (reach_s * reach_s);
        const double move = std::clamp(step[3], -0.3 * reach_s, 0.3 * reach_s);
        shape.kink_s += move;
        if (shape.kink_s < from_s || shape.kink_s > to_s || shape.slope <= 0) return {};
        if (std::abs(move) < 1e-6 * reach_s) break;
    }
    return shape;
}

/// How noise moves the kink for a fall of this shape, and what the curvature left may move it by.
struct Sensitivity {
    std::vector<double> kink, curve;  // weights of the samples
    double bias_s = 0;
};

std::optional<Sensitivity> sensitivity_of(const trace::Samples& s, const Shape& shape, double reach_s,
                                          double scale_s) {
    const auto inverse = inverse_normal(s, shape, reach_s);
    if (!inverse) return {};
    Sensitivity out;
    out.kink.assign(s.size(), (*inverse)(3, 0));
    out.curve.assign(s.size(), (*inverse)(2, 0) / (reach_s * reach_s));
    for (std::size_t i = s.at_or_after(shape.kink_s); i < s.size(); ++i) {
        const Eigen::Vector4d row = row_at(s.time_s[i], shape, reach_s);
        out.kink[i] = inverse->row(3).dot(row);
        out.curve[i] = inverse->row(2).dot(row) / (reach_s * reach_s);
        const double x = std::max(0.0, s.time_s[i] - shape.kink_s) / scale_s;
        out.bias_s += out.kink[i] * shape.slope * scale_s * (-x * x * x / 6 + x * x * x * x / 24);
    }
    return out;
}

/// In the first interval between neighbouring samples whose drop is a tenth of the largest drop or more: a
/// fall that starts late in an interval shows most of itself in the next one.
Kink between_samples(const trace::Samples& s, double from_s, double to_s) {
    const std::size_t begin = std::clamp<std::size_t>(s.at_or_after(from_s), 1, s.size() - 1);
    const auto drop_before = [&](std::size_t i) { return s.value[i - 1] - s.value[i]; };
    double largest = 0;
    for (std::size_t i = begin; i < s.size() && s.time_s[i - 1] <= to_s; ++i)
        largest = std::max(largest, drop_before(i));
    std::size_t at = begin;
    while (at + 1 < s.size() && drop_before(at) < 0.1 * largest) ++at;
    Kink kink;
    kink.time_s = 0.5 * (s.time_s[at - 1] + s.time_s[at]);
    kink.u_time_s = (s.time_s[at] - s.time_s[at - 1]) / std::sqrt(12.0);
    return kink;
}

}  // namespace

std::optional<Kink> find_kink(const trace::Samples& samples, double from_s, double to_s, double scale_s,
                              const NoiseModel& noise) {
    if (samples.size() < 3 || !(to_s > from_s) || !(scale_s > 0)) return {};

    const double around_s = 4 * (to_s - from_s + scale_s);
    const trace::Samples near = samples.between(from_s - around_s, to_s + 0.3 * scale_s);
    const trace::SampleStore rough = thinned(near.size() < 3 ? samples : near, 240);
    Scan best;
    constexpr int places = 160;
    for (int i = 0; i <= places; ++i) {
        const double kink_s = from_s + (to_s - from_s) * i / places;
        const Scan scan = fit_with_kink_at(rough.view(), kink_s, scale_s);
        if (scan.shape.slope > 0 && scan.squares < best.squares) best = scan;
    }
    if (!std::isfinite(best.squares)) return between_samples(samples, from_s, to_s);

    // From wide to narrow, each from where the last one ended: a narrow stretch sees only its neighbourhood.
    // The slope of the widest stands for the curve's when stretches are compared, else noise that looks steep
    // would win.
    std::optional<Kink> kink;
    std::optional<double> slope;
    double least_cost_s = 0;
    double start_s = best.shape.kink_s;
    for (double reach_s = 0.7 * scale_s; reach_s > 0.02 * scale_s; reach_s /= 1.5) {
        const trace::Samples around = up_to_reach(samples, start_s, reach_s);
        if (around.size() < 4) continue;
        const auto shape =
            refine(samples, fit_with_kink_at(around, start_s, reach_s).shape, from_s, to_s, reach_s);
        if (!shape) continue;
        start_s = shape->kink_s;
        if (!slope) slope = shape->slope;
        const Shape reference{shape->level, *slope, 0.5 * *slope / scale_s, shape->kink_s};
        const trace::Samples used = up_to_reach(samples, shape->kink_s, reach_s);
        auto sensitivity = sensitivity_of(used, reference, reach_s, scale_s);
        if (!sensitivity) continue;
        // Bias does not average out over runs as noise does: it is weighed three times.
        const double noise_s = noise.of_weighted_sum(used.time_s, sensitivity->kink);
        const double cost_s = std::hypot(noise_s, 3 * sensitivity->bias_s);
        // A narrower stretch that puts the kink elsewhere by more than its noise shows that the wider ones
        // bend too much.
        const bool wider_bends =
            kink && std::abs(shape->kink_s - kink->time_s) > 5 * noise_s + 1e-6 * scale_s;
        if (kink && cost_s >= least_cost_s && !wider_bends) continue;
        least_cost_s = cost_s;
        kink = Kink{};
        kink->time_s = shape->kink_s;
        kink->u_time_s = std::hypot(noise_s, sensitivity->bias_s);
        const double u_curve = noise.of_weighted_sum(used.time_s, sensitivity->curve);
        kink->accelerates = shape->curve < -3 * u_curve && -shape->curve * reach_s > 0.2 * shape->slope;
        kink->weights = std::move(sensitivity->kink);
    }
    if (kink) return kink;
    // Too few samples on the fall for a curve.
    return between_samples(samples, from_s, to_s);
}

}  // namespace ebbtide::decay
