#include "stats/lot_risk.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

#include "stats/distributions.hpp"
#include "stats/log_sample.hpp"

namespace ebbtide::stats {
namespace {

constexpr double reach = 8;  // standard deviations of the mean over lots: 1e-15 lies beyond

/// A spread within a lot that the history allows, and how probable it is.
struct Spread {
    double sigma, weight;
};

/// Even steps in ln sigma, fine enough for what history and a sample of n say of it together.
std::vector<Spread> spreads_of(const LotHistory& history, double n) {
    if (!history.degrees_of_freedom) return {{history.within, 1}};
    const double df = *history.degrees_of_freedom, unit = 1 / std::sqrt(2 * df);
    const double step = 0.3 / std::sqrt(2 * (df + n));
    // Upward the density falls as sigma^-df only.
    const double low = -std::min(6.0, 9 * unit), high = std::min(10.0, 12 * unit + 4 * unit * unit * 2);
    std::vector<Spread> out;
    double all = 0;
    for (double x = low; x <= high; x += step) {
        out.push_back({history.within * std::exp(x), std::exp(df * (0.5 - x - 0.5 * std::exp(-2 * x)))});
        all += out.back().weight;
    }
    for (Spread& one : out) one.weight /= all;
    return out;
}

double density(double z) {
    return std::exp(-0.5 * z * z) / std::sqrt(2 * std::numbers::pi);
}

/// Lots of one mean, and how probable they are.
struct Mean {
    double mu, weight;
};

/// Simpson's rule over a stretch of the history, given in standard deviations of it.
void add_stretch(std::vector<Mean>& out, const LotHistory& history, double from, double to) {
    if (!(to > from)) return;
    const int pieces = 2 * std::max(4, static_cast<int>(std::ceil((to - from) / 0.15)));
    const double step = (to - from) / pieces;
    for (int i = 0; i <= pieces; ++i) {
        const double z = from + step * i;
        const double weight = i == 0 || i == pieces ? 1 : i % 2 == 1 ? 4 : 2;
        out.push_back({history.mean + history.between * z, weight * step / 3 * density(z)});
    }
}

/// Probability that mean + k s of n values lies within a limit that is so many sigma above their mean: worked
/// out at even steps, by a cubic between them.
class WithinLimit {
  public:
    WithinLimit(double k, int n) {
        const double root = std::sqrt(static_cast<double>(n));
        // Further off the law's own digits end, and the answer is no longer in doubt.
        from_ = -30 / root;
        const double to = std::max(30 / root, 6 * (1 + std::abs(k)));
        for (double distance = from_; distance <= to; distance += step) {
            values_.push_back(1 - noncentral_t_below(k * root, n - 1, distance * root));
            if (values_.back() > 1 - 1e-10) break;
        }
    }
    [[nodiscard]] double operator()(double distance) const {
        const double place = (distance - from_) / step;
        if (place < 1) return 0;
        if (place > static_cast<double>(values_.size()) - 3) return 1;
        const auto i = static_cast<std::size_t>(place);
        const double x = place - static_cast<double>(i);
        const double a = values_[i - 1], b = values_[i], c = values_[i + 1], d = values_[i + 2];
        return b + x * (-a / 3 - b / 2 + c - d / 6) + x * x * (a / 2 - b + c / 2) +
               x * x * x * (-a / 6 + b / 2 - c / 2 + d / 6);
    }

  private:
    static constexpr double step = 0.1;
    double from_ = 0;
    std::vector<double> values_;
};

}  // namespace

std::optional<LotHistory> history_of(std::span<const LotSummary> lots) {
    double values = 0, sum = 0, squares = 0, degrees = 0, count_squares = 0, number = 0;
    for (const LotSummary& lot : lots) {
        if (!(lot.n >= 1)) continue;
        ++number;
        values += lot.n;
        sum += lot.n * lot.mean;
        count_squares += lot.n * lot.n;
        degrees += lot.n - 1;
        squares += (lot.n - 1) * lot.variance;
    }
    if (number < 3 || !(degrees > 0) || !(squares > 0)) return {};
    const double grand = sum / values, within = squares / degrees;
    double between_squares = 0;
    for (const LotSummary& lot : lots)
        if (lot.n >= 1) between_squares += lot.n * (lot.mean - grand) * (lot.mean - grand);
    const double size = (values - count_squares / values) / (number - 1);
    const double between = std::max(0.0, (between_squares / (number - 1) - within) / size);
    // Each lot weighed by how well its mean tells that of all lots.
    double weights = 0, mean = 0;
    for (const LotSummary& lot : lots) {
        if (!(lot.n >= 1)) continue;
        const double weight = 1 / (between + within / lot.n);
        weights += weight;
        mean += weight * lot.mean;
    }
    return LotHistory{mean / weights, std::sqrt(between + 1 / weights), std::sqrt(within), degrees};
}

double probability_conforming(const LotHistory& history, std::span<const Observation> sample, double limit_s,
                              double share) {
    const LogSample logs(sample, Family::lognormal);
    const double n = count_of(sample), log_limit = std::log(limit_s), z = normal_quantile(share);
    struct Point {
        double good, log_weight;  // good: the share of the point's step that conforms
    };
    std::vector<Point> points;
    double largest = -HUGE_VAL;
    for (const Spread& spread : spreads_of(history, n)) {
        if (!(spread.weight > 0)) continue;
        // Steps in the mean that follow the narrower of history and sample.
        const double sd =
            1 / std::sqrt(1 / (history.between * history.between) + n / (spread.sigma * spread.sigma));
        const double step = std::max(0.1 * sd, history.between * reach / 2000);
        for (double off = -reach * history.between; off <= reach * history.between; off += step) {
            const double mu = history.mean + off, rate = logs.scale() / spread.sigma;
            const double found = off / history.between;
            const double value = logs.at(rate, (mu - logs.centre()) / spread.sigma).value -
                                 0.5 * found * found + std::log(spread.weight * step);
            const double good = std::clamp((log_limit - z * spread.sigma - mu) / step + 0.5, 0.0, 1.0);
            points.push_back({good, value});
            largest = std::max(largest, value);
        }
    }
    double all = 0, good = 0;
    for (const Point& point : points) {
        const double weight = std::exp(point.log_weight - largest);
        all += weight;
        good += weight * point.good;
    }
    return all > 0 ? good / all : 0;
}

double confidence_conforming(double mean, double s, int n, double log_limit, double share) {
    const double root = std::sqrt(static_cast<double>(n));
    return noncentral_t_below((log_limit - mean) / s * root, n - 1, normal_quantile(share) * root);
}

GlobalLotRisk global_lot_risk(const LotHistory& history, int n, double limit_s, const Claim& claim) {
    const double root = std::sqrt(static_cast<double>(n)), z = normal_quantile(claim.share);
    const WithinLimit shown_at(one_sided_factor(n, claim), n);
    const WithinLimit not_refuted_at(noncentral_t_quantile(1 - claim.confidence, n - 1, z * root) / root, n);
    const double log_limit = std::log(limit_s);
    GlobalLotRisk out;
    for (const Spread& spread : spreads_of(history, 0)) {
        if (spread.weight < 1e-9) continue;
        // A lot conforms up to this mean.
        const double edge =
            std::clamp((log_limit - z * spread.sigma - history.mean) / history.between, -reach, reach);
        for (const bool conforming : {true, false}) {
            std::vector<Mean> means;
            add_stretch(means, history, conforming ? -reach : edge, conforming ? edge : reach);
            for (const Mean& one : means) {
                if (one.weight < 1e-13) continue;
                const double weight = spread.weight * one.weight;
                const double distance = (log_limit - one.mu) / spread.sigma;
                const double shown = shown_at(distance);
                const double refuted = 1 - not_refuted_at(distance);
                out.shown += weight * shown;
                out.refuted += weight * refuted;
                if (conforming) {
                    out.conforming += weight;
                    out.producer += weight * refuted;
                    out.open_conforming += weight * (1 - shown - refuted);
                } else {
                    out.consumer += weight * shown;
                }
            }
        }
    }
    return out;
}

}  // namespace ebbtide::stats
