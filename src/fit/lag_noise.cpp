#include "fit/lag_noise.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

namespace ebbtide::fit {
namespace {

constexpr std::size_t most_residuals = 16384;
constexpr double must_gain = 3;  // of log likelihood, for two more parameters

struct Series {
    std::vector<double> gap;  // to the residual before
    std::vector<double> value;
};

struct Likelihood {
    double log_value = -std::numeric_limits<double>::infinity();
    double variance = 0;  // total, concentrated out
};

/// Of a white part (1 - share) and a band-limited part (share), by the Kalman filter: the band-limited part
/// is the state, which forgets exp(-gap / correlation) between residuals.
Likelihood likelihood_of(const Series& series, double share, double correlation) {
    const double white = 1 - share;
    double mean = 0, spread = share, squares = 0, logs = 0, product = 1;
    double gap = -1, keep = 0;
    for (std::size_t i = 0; i < series.value.size(); ++i) {
        if (i > 0) {
            if (series.gap[i] != gap) {
                gap = series.gap[i];
                keep = correlation > 0 ? std::exp(-gap / correlation) : 0;
            }
            mean *= keep;
            spread = keep * keep * spread + share * (1 - keep * keep);
        }
        const double expected = spread + white;
        const double surprise = series.value[i] - mean;
        squares += surprise * surprise / expected;
        product *= expected;
        if (product < 1e-200) {
            logs += std::log(product);
            product = 1;
        }
        const double gain = spread / expected;
        mean += gain * surprise;
        spread *= 1 - gain;
    }
    logs += std::log(product);
    const auto n = static_cast<double>(series.value.size());
    Likelihood out;
    out.variance = squares / n;
    if (out.variance > 0) out.log_value = -0.5 * (n * std::log(out.variance) + logs);
    return out;
}

/// Maximum of f over [low, high] by golden sections.
template <class F>
double highest_at(F f, double low, double high, int turns) {
    const double golden = (std::sqrt(5.0) - 1) / 2;
    double a = high - golden * (high - low), b = low + golden * (high - low);
    double at_a = f(a), at_b = f(b);
    for (int turn = 0; turn < turns; ++turn) {
        if (at_a > at_b) {
            high = b;
            b = a;
            at_b = at_a;
            a = high - golden * (high - low);
            at_a = f(a);
        } else {
            low = a;
            a = b;
            at_a = at_b;
            b = low + golden * (high - low);
            at_b = f(b);
        }
    }
    return (low + high) / 2;
}

}  // namespace

double LagNoise::variance_ratio(double interval) const {
    if (!(correlation > 0) || !(variance() > 0)) return 1;
    // 1 + 2 sum of keep^k = (1 + keep) / (1 - keep)
    const double gain = 1 / std::tanh(interval / (2 * correlation));
    return std::max(1.0, (white * white + band * band * gain) / variance());
}

LagNoise lag_noise_of(std::span<const double> x, std::span<const double> residual) {
    const std::size_t width = residual.size() / (most_residuals + 1) + 1;
    const auto share_of_width = 1 / static_cast<double>(width);
    Series series;
    double before = 0, scale = 0;
    for (std::size_t i = 0; i + width <= residual.size(); i += width) {
        double x_mean = 0, mean = 0;
        for (std::size_t j = i; j < i + width; ++j) {
            x_mean += (x[j] - x[i]) * share_of_width;
            mean += residual[j] * share_of_width;
        }
        x_mean += x[i];
        series.gap.push_back(i == 0 ? 0 : x_mean - before);
        series.value.push_back(mean);
        scale = std::max(scale, std::abs(mean));
        before = x_mean;
    }
    if (series.value.empty() || scale == 0) return {};
    for (double& value : series.value) value /= scale;

    const Likelihood white = likelihood_of(series, 0, 0);
    const double widened = std::sqrt(static_cast<double>(width));
    LagNoise out{.white = scale * widened * std::sqrt(white.variance)};
    if (series.value.size() < 8) return out;

    // A gap that is a hair off its neighbour through rounding would cost an exponential a sample.
    const double length = before - x.front();
    const double interval = length / static_cast<double>(series.value.size() - 1);
    if (!(interval > 0)) return out;
    for (double& gap : series.gap)
        if (std::abs(gap - interval) < 1e-6 * interval) gap = interval;

    // The share's likelihood at a correlation, on a logistic scale that reaches both ends.
    const auto share_of = [](double z) { return 1 / (1 + std::exp(-z)); };
    double best_log = white.log_value + must_gain, best_z = 0, best_correlation = 0;
    for (double correlation = 0.3 * interval; correlation < 0.25 * length; correlation *= 2)
        for (const double z : {-4.0, -2.0, 0.0, 2.0, 5.0, 12.0}) {
            const double log_value = likelihood_of(series, share_of(z), correlation).log_value;
            if (log_value > best_log) {
                best_log = log_value;
                best_z = z;
                best_correlation = correlation;
            }
        }
    if (best_correlation == 0) return out;
    for (int turn = 0; turn < 3; ++turn) {
        best_correlation = std::exp(highest_at(
            [&](double l) { return likelihood_of(series, share_of(best_z), std::exp(l)).log_value; },
            std::log(best_correlation) - 0.8, std::log(best_correlation) + 0.8, 8));
        best_z = highest_at(
            [&](double z) { return likelihood_of(series, share_of(z), best_correlation).log_value; },
            best_z - 2.5, best_z + 2.5, 8);
    }
    const double share = share_of(best_z);
    const double variance = likelihood_of(series, share, best_correlation).variance;
    out.white = scale * widened * std::sqrt((1 - share) * variance);
    out.band = scale * std::sqrt(share * variance);
    out.correlation = best_correlation;
    return out;
}

}  // namespace ebbtide::fit
