#include "decay/noise.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace ebbtide::decay {
namespace {

/// Mean square of third differences at one lag.
struct LagPoint {
    std::size_t lag = 0;  // samples
    double mean_square = 0;
    double freedom = 0;  // independent differences, roughly
};

// (1, -3, 3, -1) correlated with itself: 20, -15, 6, -1 on both sides.
double structure(double r1, double r2, double r3) {
    return 20 - 30 * r1 + 12 * r2 - 2 * r3;
}

double smallest_step(const trace::Samples& samples) {
    double smallest = std::numeric_limits<double>::infinity();
    for (std::size_t i = 0; i + 1 < samples.size(); ++i)
        if (const double step = std::abs(samples.value[i + 1] - samples.value[i]); step > 0)
            smallest = std::min(smallest, step);
    return smallest;
}

void add_differences(const trace::Samples& s, std::size_t lag, std::size_t from, double& sum, double& count) {
    if (s.size() < 3 * lag + 1) return;
    // Neighbouring differences at a long lag say the same: an eighth of the lag is step enough.
    const std::size_t stride = std::max<std::size_t>(1, lag / 8);
    for (std::size_t i = from; i + 3 * lag < s.size(); i += stride) {
        const double d = s.value[i + 3 * lag] - 3 * s.value[i + 2 * lag] + 3 * s.value[i + lag] - s.value[i];
        sum += d * d;
        count += 1;
    }
}

/// First sample of the fall from which the third difference of the signal itself, about |v| (lag/scale)^3, is
/// under a fifth of the noise's.
std::size_t usable_from(const NoiseEvidence& evidence, double lag_s, double noise_square) {
    const trace::Samples& fall = evidence.fall;
    const double cube = std::pow(lag_s / evidence.fall_scale_s, 3);
    const double limit = 0.2 * std::sqrt(noise_square);
    const std::size_t block = std::max<std::size_t>(1, fall.size() / 256);
    std::size_t from = fall.size();
    for (std::size_t end = fall.size(); end >= block; end -= block) {
        double mean = 0;
        for (std::size_t i = end - block; i < end; ++i) mean += fall.value[i];
        mean /= static_cast<double>(block);
        if (std::abs(mean - evidence.fall_base_V) * cube > limit) break;
        from = end - block;
    }
    return from;
}

std::vector<LagPoint> lag_points(const NoiseEvidence& evidence, double step_s) {
    std::vector<LagPoint> points;
    std::size_t longest = evidence.fall.size();
    for (const auto& level : evidence.levels) longest = std::max(longest, level.size());
    double previous = 0;
    for (std::size_t lag = 1; 3 * lag < longest; lag *= 2) {
        double sum = 0, count = 0;
        for (const auto& level : evidence.levels) add_differences(level, lag, 0, sum, count);
        // Without a level to start from, the first lag is taken wherever the fall allows.
        const double reference = previous > 0 ? previous : (count > 8 ? sum / count : 0);
        if (!evidence.fall.empty() && evidence.fall_scale_s > 0) {
            const double lag_s = static_cast<double>(lag) * step_s;
            const std::size_t from =
                reference > 0 ? usable_from(evidence, lag_s, reference) : evidence.fall.size() / 3;
            add_differences(evidence.fall, lag, from, sum, count);
        }
        if (count < 8) break;
        const double stride = static_cast<double>(std::max<std::size_t>(1, lag / 8));
        const double freedom = count * stride / (2.31 * static_cast<double>(lag));
        points.push_back({lag, sum / count, std::max(1.0, freedom)});
        previous = std::max(previous, sum / count);
        if (freedom < 4) break;
    }
    return points;
}

struct Fit {
    double white = 0, band = 0;  // variances
    double misfit = std::numeric_limits<double>::infinity();
};

/// Non-negative least squares of white * 20 + band * structure(lag / correlation). A mean square scatters as
/// its own expectation, so the weights are those of the model fitted so far, and the misfit is the deviance
/// of scaled chi-squares.
Fit fit_at(const std::vector<LagPoint>& points, double step_s, double correlation_s) {
    std::vector<double> shape(points.size()), expected(points.size());
    for (std::size_t i = 0; i < points.size(); ++i) {
        const double r = std::exp(-static_cast<double>(points[i].lag) * step_s / correlation_s);
        shape[i] = structure(r, r * r, r * r * r);
        expected[i] = points[i].mean_square;
    }
    Fit fit;
    for (int turn = 0; turn < 4; ++turn) {
        double aa = 0, ab = 0, bb = 0, ay = 0, by = 0;
        for (std::size_t i = 0; i < points.size(); ++i) {
            const double a = 20, b = shape[i], y = points[i].mean_square;
            const double weight = points[i].freedom / (expected[i] * expected[i]);
            aa += weight * a * a;
            ab += weight * a * b;
            bb += weight * b * b;
            ay += weight * a * y;
            by += weight * b * y;
        }
        const double determinant = aa * bb - ab * ab;
        fit.white = determinant > 1e-12 * aa * bb ? (ay * bb - by * ab) / determinant : -1;
        fit.band = determinant > 1e-12 * aa * bb ? (by * aa - ay * ab) / determinant : -1;
        if (fit.white < 0) {
            fit.white = 0;
            fit.band = by / bb;
        } else if (fit.band < 0) {
            fit.white = ay / aa;
            fit.band = 0;
        }
        for (std::size_t i = 0; i < points.size(); ++i) expected[i] = 20 * fit.white + shape[i] * fit.band;
    }
    fit.misfit = 0;
    for (std::size_t i = 0; i < points.size(); ++i) {
        const double ratio = points[i].mean_square / expected[i];
        fit.misfit += points[i].freedom * (ratio - 1 - std::log(ratio));
    }
    return fit;
}

}  // namespace

double NoiseModel::sample_V() const {
    return std::hypot(white_V, band_V);
}

double NoiseModel::of_weighted_sum(std::span<const double> time_s, std::span<const double> weight) const {
    double squares = 0, crossed = 0, carried = 0;
    double step_s = 0, kept = 1;  // neighbours mostly lie equally far apart: an exponential lasts for many
    for (std::size_t i = 0; i < weight.size(); ++i) {
        if (i > 0 && correlation_s > 0) {
            if (const double now_s = time_s[i] - time_s[i - 1]; now_s != step_s) {
                step_s = now_s;
                kept = std::exp(-step_s / correlation_s);
            }
            carried = (carried + weight[i - 1]) * kept;
        }
        squares += weight[i] * weight[i];
        crossed += weight[i] * carried;
    }
    const double variance = white_V * white_V * squares + band_V * band_V * (squares + 2 * crossed);
    return std::sqrt(std::max(0.0, variance));
}

double NoiseModel::of_mean(std::span<const double> time_s) const {
    if (time_s.empty()) return sample_V();
    const std::vector<double> weight(time_s.size(), 1.0 / static_cast<double>(time_s.size()));
    return of_weighted_sum(time_s, weight);
}

NoiseModel estimate_noise(const NoiseEvidence& evidence) {
    double step_s = trace::typical_interval_s(evidence.fall);
    double step_V = smallest_step(evidence.fall);
    for (const auto& level : evidence.levels) {
        if (step_s <= 0) step_s = trace::typical_interval_s(level);
        step_V = std::min(step_V, smallest_step(level));
    }
    NoiseModel model;
    model.step_V = std::isfinite(step_V) ? step_V : 0;
    const double least = std::isfinite(step_V) ? step_V / std::sqrt(12.0) : 0;

    const std::vector<LagPoint> all =
        step_s > 1e-300 ? lag_points(evidence, step_s) : std::vector<LagPoint>{};
    std::vector<LagPoint> points;
    for (const LagPoint& p : all)
        if (p.mean_square > 0) points.push_back(p);
    // In units of the largest, squares neither vanish nor overflow.
    double largest = 0;
    for (const LagPoint& p : points) largest = std::max(largest, p.mean_square);
    for (LagPoint& p : points) p.mean_square /= largest;
    if (points.empty()) {
        model.white_V = least;
        model.from_step = true;
        return model;
    }

    double best_correlation = 0;
    Fit best = fit_at(points, step_s, 1e-6 * step_s);  // no memory: all of it is white
    best.white += best.band;
    best.band = 0;
    const double longest_s = static_cast<double>(points.back().lag) * step_s;
    for (double tau = 0.5 * step_s; tau <= 0.5 * longest_s; tau *= 1.12) {
        const Fit trial = fit_at(points, step_s, tau);
        // Two more parameters must earn their keep.
        if (trial.band > 0 && trial.misfit < best.misfit - (best_correlation == 0 ? 2.0 : 0.0)) {
            best = trial;
            best_correlation = tau;
        }
    }
    model.white_V = std::sqrt(best.white) * std::sqrt(largest);
    model.band_V = std::sqrt(best.band) * std::sqrt(largest);
    model.correlation_s = best_correlation;
    // The variance that matters is that of a mean over many correlation times: as many differences as fit in
    // at twice that.
    const LagPoint& first = points.front();
    const double spans = first.freedom * static_cast<double>(first.lag) * step_s;
    const double memory_s = std::max(step_s, 2 * best_correlation);
    model.degrees_of_freedom = std::max(3.0, best_correlation > 0 ? spans / memory_s : first.freedom);
    if (model.sample_V() < least) {
        model.white_V = std::sqrt(std::max(0.0, least * least - model.band_V * model.band_V));
        model.from_step = true;
    }
    return model;
}

}  // namespace ebbtide::decay
