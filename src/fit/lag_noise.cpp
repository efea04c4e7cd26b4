#include "fit/lag_noise.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>
#include <vector>

namespace ebbtide::fit {
namespace {

constexpr std::size_t stretch = 1024;  // neighbours taken together
constexpr std::size_t stretches = 64;  // of them, spread over a longer record
constexpr double must_gain = 3;        // of log likelihood, for two more parameters

struct Series {
    std::vector<double> x;
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

/// All residuals, or stretches of neighbours at even distances; the gaps between them are gaps like any other
/// to the filter.
Series thinned(std::span<const double> x, std::span<const double> residual) {
    const std::size_t count = residual.size();
    Series out;
    const auto take = [&](std::size_t from, std::size_t to) {
        for (std::size_t i = from; i < to; ++i) {
            out.gap.push_back(out.x.empty() ? 0 : x[i] - out.x.back());
            out.x.push_back(x[i]);
            out.value.push_back(residual[i]);
        }
    };
    if (count <= stretch * stretches)
        take(0, count);
    else
        for (std::size_t s = 0; s < stretches; ++s) {
            const std::size_t from = (count - stretch) / (stretches - 1) * s;
            take(from, from + stretch);
        }
    return out;
}

/// By grid, then by turns. Standard deviations in the unit of the values.
LagNoise noise_of(Series series, double scale) {
    for (double& value : series.value) value /= scale;
    const Likelihood white = likelihood_of(series, 0, 0);
    LagNoise out{.white = scale * std::sqrt(white.variance)};
    if (series.value.size() < 8) return out;

    // Gaps that differ by rounding would cost an exponential a sample.
    std::vector<double> gaps(series.gap.begin() + 1, series.gap.end());
    std::ranges::nth_element(gaps, gaps.begin() + static_cast<std::ptrdiff_t>(gaps.size() / 2));
    const double interval = gaps[gaps.size() / 2];
    const double length = series.x.back() - series.x.front();
    if (!(length > 0)) return out;
    const double shortest = interval > 0 ? interval : length / static_cast<double>(series.value.size());
    for (double& gap : series.gap)
        if (std::abs(gap - interval) < 1e-6 * interval) gap = interval;

    // The share of the band-limited part on a logistic scale, which reaches both ends.
    const auto share_of = [](double z) { return 1 / (1 + std::exp(-z)); };
    double best_log = white.log_value + must_gain, best_z = 0, best_correlation = 0;
    for (double correlation = 0.3 * shortest; correlation < 0.25 * length; correlation *= 2)
        for (const double z : {-4.0, -2.0, 0.0, 2.0, 5.0, 12.0}) {
            const double log_value = likelihood_of(series, share_of(z), correlation).log_value;
            if (log_value > best_log) {
                best_log = log_value;
                best_z = z;
                best_correlation = correlation;
            }
        }
    if (best_correlation == 0) return out;
    // While a correlation is long against the gaps, what is well known is band^2 / correlation; turns along
    // that and the correlation do not hinder each other.
    double rate_z = best_z - std::log(best_correlation);
    const auto at = [&](double rate, double log_correlation) {
        return likelihood_of(series, share_of(rate + log_correlation), std::exp(log_correlation)).log_value;
    };
    double log_correlation = std::log(best_correlation);
    for (int turn = 0; turn < 4; ++turn) {
        const double reach = turn == 0 ? 1 : 0.5;
        rate_z = highest_at([&](double rate) { return at(rate, log_correlation); }, rate_z - 2 * reach,
                            rate_z + 2 * reach, 8);
        log_correlation = highest_at([&](double l) { return at(rate_z, l); }, log_correlation - reach,
                                     log_correlation + reach, 8);
    }
    best_z = rate_z + log_correlation;
    best_correlation = std::exp(log_correlation);
    const double share = share_of(best_z);
    const double variance = likelihood_of(series, share, best_correlation).variance;
    return {scale * std::sqrt((1 - share) * variance), scale * std::sqrt(share * variance), best_correlation};
}

}  // namespace

double LagNoise::variance_ratio(double interval) const {
    if (!(correlation > 0) || !(variance() > 0)) return 1;
    // 1 + 2 sum of keep^k = (1 + keep) / (1 - keep)
    const double gain = 1 / std::tanh(interval / (2 * correlation));
    return std::max(1.0, (white * white + band * band * gain) / variance());
}

LagNoise lag_noise_of(std::span<const double> x, std::span<const double> residual) {
    Series series = thinned(x, residual);
    double scale = 0;
    for (const double value : series.value) scale = std::max(scale, std::abs(value));
    if (scale == 0) return {};
    return noise_of(std::move(series), scale);
}

}  // namespace ebbtide::fit
