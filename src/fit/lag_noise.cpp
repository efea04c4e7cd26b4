#include "fit/lag_noise.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <span>
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

/// Noise of variance 1 that is looked at.
struct Memory {
    double share = 0;        ///< of the variance that is band-limited
    double correlation = 0;  ///< above 0, or no share
};

struct Likelihood {
    double log_value = -std::numeric_limits<double>::infinity();
    double variance = 0;  // total, concentrated out
};

/// So many memories share one reading of the series: a filter waits for its own last result, eight do not.
constexpr std::size_t abreast = 8;
using Abreast = std::array<double, abreast>;

/// The Kalman filter, its state the band-limited part, which forgets exp(-gap / correlation) between
/// residuals. What it weighs the residuals with does not depend on them, and settles while the gaps are
/// alike.
class Filters {
  public:
    explicit Filters(std::span<const Memory> memories) : memories_(memories) {
        product_.fill(1);
        for (std::size_t k = 0; k < memories.size(); ++k) spread_[k] = memories[k].share;  // of long ago
    }

    void take(double gap, double value) {
        if (gap != gap_) forget_over(gap);
        if (!settled_) weigh();
        settled_for_ += settled_;
        for (std::size_t k = 0; k < abreast; ++k) {
            const double surprise = value - keep_[k] * mean_[k];
            squares_[k] += surprise * surprise * per_expected_[k];
            mean_[k] = through_[k] * mean_[k] + gain_[k] * value;
        }
    }

    [[nodiscard]] std::vector<Likelihood> results(std::size_t count) {
        gather_logs();
        std::vector<Likelihood> out(memories_.size());
        const auto n = static_cast<double>(count);
        for (std::size_t k = 0; k < out.size(); ++k) {
            out[k].variance = squares_[k] / n;
            if (out[k].variance > 0)
                out[k].log_value = -0.5 * (n * std::log(out[k].variance) + logs_[k] + std::log(product_[k]));
        }
        return out;
    }

  private:
    void gather_logs() {
        if (settled_for_ == 0) return;
        for (std::size_t k = 0; k < memories_.size(); ++k)
            logs_[k] += static_cast<double>(settled_for_) * std::log(expected_[k]);
        settled_for_ = 0;
    }
    void forget_over(double gap) {
        gather_logs();
        settled_ = false;
        gap_ = gap;
        for (std::size_t k = 0; k < memories_.size(); ++k)
            keep_[k] = memories_[k].correlation > 0 ? std::exp(-gap / memories_[k].correlation) : 0;
    }
    void weigh() {
        bool settled = true;
        for (std::size_t k = 0; k < memories_.size(); ++k) {
            const double keep = keep_[k] * keep_[k], share = memories_[k].share;
            const double spread = keep * spread_[k] + share * (1 - keep);
            const double expected = spread + 1 - share;
            settled = settled && std::abs(expected - expected_[k]) <= 1e-15 * expected;
            expected_[k] = expected;
            per_expected_[k] = 1 / expected;
            gain_[k] = spread * per_expected_[k];
            spread_[k] = spread * (1 - gain_[k]);
            through_[k] = keep_[k] * (1 - gain_[k]);
        }
        settled_ = settled;
        if (settled) return;
        for (std::size_t k = 0; k < memories_.size(); ++k) {
            product_[k] *= expected_[k];
            if (product_[k] > 1e-200) continue;
            logs_[k] += std::log(product_[k]);
            product_[k] = 1;
        }
    }

    std::span<const Memory> memories_;
    double gap_ = -1;
    bool settled_ = false;  ///< the weights stay as they are until the gap changes
    std::size_t settled_for_ = 0;
    Abreast keep_{}, spread_{}, expected_{}, per_expected_{}, gain_{}, through_{};
    Abreast mean_{}, squares_{}, logs_{}, product_{};
};

/// At most as many as stand abreast.
std::vector<Likelihood> likelihoods_of(const Series& series, const std::vector<Memory>& memories) {
    Filters filters(memories);
    for (std::size_t i = 0; i < series.value.size(); ++i) filters.take(series.gap[i], series.value[i]);
    return filters.results(series.value.size());
}

/// Where the likelihood is highest along a line: eight places, and again between the neighbours of the best.
/// `memory_at` says what a place stands for.
template <class MemoryAt>
double highest_at(const Series& series, MemoryAt memory_at, double low, double high) {
    constexpr int turns = 3;
    double best = low;
    for (int turn = 0; turn < turns; ++turn) {
        std::vector<double> place;
        std::vector<Memory> memories;
        const double step = (high - low) / static_cast<double>(abreast + 1);
        for (std::size_t k = 1; k <= abreast; ++k) {
            place.push_back(low + static_cast<double>(k) * step);
            memories.push_back(memory_at(place.back()));
        }
        const std::vector<Likelihood> found = likelihoods_of(series, memories);
        const auto at = std::ranges::max_element(found, {}, &Likelihood::log_value) - found.begin();
        best = place[static_cast<std::size_t>(at)];
        low = best - step;
        high = best + step;
    }
    return best;
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
    const Likelihood white = likelihoods_of(series, {{0, 0}}).front();
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
    constexpr std::array grid{-4.0, -2.0, 0.0, 2.0, 5.0, 12.0};
    for (double correlation = 0.3 * shortest; correlation < 0.25 * length; correlation *= 2) {
        std::vector<Memory> memories;
        for (const double z : grid) memories.push_back({share_of(z), correlation});
        const std::vector<Likelihood> found = likelihoods_of(series, memories);
        for (std::size_t k = 0; k < grid.size(); ++k) {
            if (!(found[k].log_value > best_log)) continue;
            best_log = found[k].log_value;
            best_z = grid[k];
            best_correlation = correlation;
        }
    }
    if (best_correlation == 0) return out;
    // While a correlation is long against the gaps, what is well known is band^2 / correlation; turns along
    // that and the correlation do not hinder each other.
    double rate_z = best_z - std::log(best_correlation), log_correlation = std::log(best_correlation);
    const auto memory_of = [&](double rate, double log_c) {
        return Memory{share_of(rate + log_c), std::exp(log_c)};
    };
    for (int turn = 0; turn < 4; ++turn) {
        const double reach = turn == 0 ? 1 : 0.5;
        rate_z = highest_at(
            series, [&](double rate) { return memory_of(rate, log_correlation); }, rate_z - 2 * reach,
            rate_z + 2 * reach);
        log_correlation = highest_at(
            series, [&](double log_c) { return memory_of(rate_z, log_c); }, log_correlation - reach,
            log_correlation + reach);
    }
    const Memory best = memory_of(rate_z, log_correlation);
    const double variance = likelihoods_of(series, {best}).front().variance, share = best.share;
    return {scale * std::sqrt((1 - share) * variance), scale * std::sqrt(share * variance), best.correlation};
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
