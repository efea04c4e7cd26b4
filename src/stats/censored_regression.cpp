#include "stats/censored_regression.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>

#include "stats/distributions.hpp"

namespace ebbtide::stats {
namespace {

/// A symmetric matrix that is positive definite, or not, by Cholesky's factors.
class Definite {
  public:
    Definite(std::vector<double> matrix, std::size_t size) : l_(std::move(matrix)), size_(size) {
        for (std::size_t j = 0; j < size_; ++j) {
            const double before = at(j, j);
            for (std::size_t k = 0; k < j; ++k) at(j, j) -= at(j, k) * at(j, k);
            // What the other rows explain to rounding is no direction of its own.
            if (!(at(j, j) > 1e-11 * before)) return;
            at(j, j) = std::sqrt(at(j, j));
            for (std::size_t i = j + 1; i < size_; ++i) {
                for (std::size_t k = 0; k < j; ++k) at(i, j) -= at(i, k) * at(j, k);
                at(i, j) /= at(j, j);
            }
        }
        holds_ = true;
    }
    [[nodiscard]] bool holds() const { return holds_; }
    [[nodiscard]] std::vector<double> solved(std::vector<double> right) const {
        for (std::size_t i = 0; i < size_; ++i) {
            for (std::size_t k = 0; k < i; ++k) right[i] -= at(i, k) * right[k];
            right[i] /= at(i, i);
        }
        for (std::size_t i = size_; i-- > 0;) {
            for (std::size_t k = i + 1; k < size_; ++k) right[i] -= at(k, i) * right[k];
            right[i] /= at(i, i);
        }
        return right;
    }

  private:
    [[nodiscard]] double at(std::size_t i, std::size_t j) const { return l_[i * size_ + j]; }
    double& at(std::size_t i, std::size_t j) { return l_[i * size_ + j]; }

    std::vector<double> l_;
    std::size_t size_;
    bool holds_ = false;
};

/// The log-likelihood in rate = 1/scale and the slopes over the scale, in which it is concave
/// (stats/log_sample.hpp); logarithms are in units of their spread.
struct Surface {
    struct At {
        double value = 0;
        std::vector<double> slope;  ///< by rate, then by each slope over the scale
        std::vector<double> bend;   ///< negative second derivatives, row by row
    };

    std::vector<LogSample> samples;
    std::vector<std::span<const double>> covariates;
    std::vector<double> counts;
    double unit = 1;

    [[nodiscard]] std::size_t size() const { return 1 + covariates.front().size(); }
    [[nodiscard]] At at(const std::vector<double>& where) const {
        const std::size_t n = size();
        At out{0, std::vector<double>(n, 0.0), std::vector<double>(n * n, 0.0)};
        for (std::size_t i = 0; i < samples.size(); ++i) {
            const std::span<const double> x = covariates[i];
            double mean = 0;
            for (std::size_t k = 0; k + 1 < n; ++k) mean += x[k] * where[k + 1];
            // z = rate ln t/unit - mean, in the sample's own place and scale.
            const double s = samples[i].scale() / unit, c = samples[i].centre() / unit;
            const LogLikelihood found = samples[i].at(where[0] * s, mean - where[0] * c);
            out.value += found.value;
            out.slope[0] += s * found.by_rate - c * found.by_shift;
            out.bend[0] -= s * s * found.rate_rate - 2 * s * c * found.rate_shift + c * c * found.shift_shift;
            const double rate_mean = s * found.rate_shift - c * found.shift_shift;
            for (std::size_t k = 0; k + 1 < n; ++k) {
                out.slope[k + 1] += x[k] * found.by_shift;
                out.bend[k + 1] -= x[k] * rate_mean;
                out.bend[(k + 1) * n] -= x[k] * rate_mean;
                for (std::size_t m = 0; m + 1 < n; ++m)
                    out.bend[(k + 1) * n + m + 1] -= x[k] * x[m] * found.shift_shift;
            }
        }
        return out;
    }
};

double dot(const std::vector<double>& a, const std::vector<double>& b) {
    double sum = 0;
    for (std::size_t i = 0; i < a.size(); ++i) sum += a[i] * b[i];
    return sum;
}

Surface surface_of(std::span<const Place> places, Family family) {
    Surface out;
    for (const Place& place : places) {
        if (place.sample.empty()) continue;
        out.samples.emplace_back(place.sample, family);
        out.covariates.emplace_back(place.covariates);
        out.counts.push_back(count_of(place.sample));
    }
    return out;
}

/// Slopes by least squares of the samples' middles, in seconds' logarithms, and a unit that goes with them.
/// Nothing where covariates repeat each other.
std::optional<std::vector<double>> begin_at(Surface& surface) {
    const std::size_t n = surface.size() - 1;
    std::vector<double> normal(n * n, 0.0), right(n, 0.0);
    for (std::size_t i = 0; i < surface.samples.size(); ++i)
        for (std::size_t k = 0; k < n; ++k) {
            const double weighed = surface.counts[i] * surface.covariates[i][k];
            right[k] += weighed * surface.samples[i].centre();
            for (std::size_t m = 0; m < n; ++m) normal[k * n + m] += weighed * surface.covariates[i][m];
        }
    const Definite matrix(std::move(normal), n);
    if (!matrix.holds()) return {};
    const std::vector<double> slopes = matrix.solved(std::move(right));
    double squares = 0, count = 0;
    for (std::size_t i = 0; i < surface.samples.size(); ++i) {
        double off = surface.samples[i].centre();
        for (std::size_t k = 0; k < n; ++k) off -= slopes[k] * surface.covariates[i][k];
        // A sample of one value says 1 for its scale, which is no spread.
        const double spread = surface.counts[i] > 1 ? surface.samples[i].scale() : 0;
        squares += surface.counts[i] * (off * off + spread * spread);
        count += surface.counts[i];
    }
    // Less than this is rounding: 1 then, and the climb sees that any smaller spread fits better.
    surface.unit = squares > 1e-24 * count ? std::sqrt(squares / count) : 1;
    std::vector<double> where{1};
    for (const double slope : slopes) where.push_back(slope / surface.unit);
    return where;
}

/// Newton's step; where the surface is flat to rounding, with a little more bend.
std::vector<double> step_of(const Surface::At& at, std::size_t size) {
    double trace = 0;
    for (std::size_t i = 0; i < size; ++i) trace += at.bend[i * size + i];
    for (double more = 0;; more = more == 0 ? 1e-9 * trace + 1e-12 : 100 * more) {
        std::vector<double> bend = at.bend;
        for (std::size_t i = 0; i < size; ++i) bend[i * size + i] += more;
        const Definite matrix(std::move(bend), size);
        if (matrix.holds()) return matrix.solved(at.slope);
        if (!std::isfinite(more)) return std::vector<double>(size, 0.0);
    }
}

struct Climbed {
    std::vector<double> where;
    Surface::At at;
    FitOutcome outcome = FitOutcome::stalled;
};

Climbed climb_to_top(const Surface& surface, std::vector<double> start) {
    constexpr double no_rate = 1e-6, no_spread = 1e4, no_end = 1e4;
    Climbed top;
    const std::size_t size = surface.size();
    const std::vector<double> first = start;
    top.where = std::move(start);
    top.at = surface.at(top.where);
    double last_gain = std::numeric_limits<double>::infinity();
    for (int round = 0; round < 300; ++round) {
        const std::vector<double> step = step_of(top.at, size);
        const double gain = dot(step, top.at.slope);
        const auto moved = [&](double length) {
            std::vector<double> out = top.where;
            for (std::size_t i = 0; i < size; ++i) out[i] += length * step[i];
            return out;
        };
        // Near the top whole steps are safe; they end where they stop getting shorter.
        if (gain < 1e-7 && top.where[0] + step[0] > 0) {
            if (gain <= 1e-20 || gain >= last_gain) {
                top.outcome = top.where[0] < no_rate ? FitOutcome::only_bounds_apart : FitOutcome::fitted;
                return top;
            }
            last_gain = gain;
            top.where = moved(1);
            top.at = surface.at(top.where);
            continue;
        }
        double length = 1;
        if (top.where[0] + step[0] <= 0) length = -0.9 * top.where[0] / step[0];
        for (int halving = 0;; ++halving, length /= 2) {
            if (halving == 60) return top;
            std::vector<double> where = moved(length);
            Surface::At at = surface.at(where);
            const double rounding = 1e-14 * std::abs(top.at.value);
            if (!(at.value >= top.at.value + 1e-4 * length * gain - rounding)) continue;
            top.where = std::move(where);
            top.at = std::move(at);
            break;
        }
        bool endless = false;
        for (std::size_t i = 0; i < size; ++i)
            endless = endless || std::abs(top.where[i] - first[i] * top.where[0]) > no_end * top.where[0];
        if (top.where[0] < no_rate || endless) {
            top.outcome = FitOutcome::only_bounds_apart;
            return top;
        }
        if (top.where[0] > no_spread) {
            top.outcome = FitOutcome::one_time_explains_all;
            return top;
        }
    }
    return top;
}

/// How well a slope could be known if nothing else were to be found out; what lies far above has no end.
double least_error(const Surface& surface, std::size_t k) {
    double squares = 0;
    for (std::size_t i = 0; i < surface.samples.size(); ++i)
        squares += surface.counts[i] * surface.covariates[i][k] * surface.covariates[i][k];
    return 1 / std::sqrt(squares);
}

bool one_line_explains_all(const Surface& surface) {
    return std::ranges::all_of(surface.samples,
                               [](const LogSample& one) { return one.one_time_explains_all(); }) &&
           surface.samples.size() < surface.size();
}

}  // namespace

RegressionFit fit_regression(std::span<const Place> places, Family family) {
    RegressionFit fit;
    fit.family = family;
    Surface surface = surface_of(places, family);
    if (surface.samples.empty() || one_line_explains_all(surface)) {
        fit.outcome = FitOutcome::one_time_explains_all;
        return fit;
    }
    const auto start = begin_at(surface);
    if (!start) {
        fit.outcome = FitOutcome::only_bounds_apart;
        return fit;
    }
    const Climbed top = climb_to_top(surface, *start);
    fit.outcome = top.outcome;
    if (!fit.fitted()) return fit;
    const std::size_t size = surface.size();
    // The information in (rate, slopes over the scale), then errors by the slopes' own derivatives in these.
    const Definite information(top.at.bend, size);
    if (!information.holds()) {
        fit.outcome = FitOutcome::only_bounds_apart;
        return fit;
    }
    const double rate = top.where[0];
    fit.scale = surface.unit / rate;
    fit.log_likelihood = top.at.value;
    for (std::size_t k = 1; k < size; ++k) {
        std::vector<double> by(size, 0.0);
        by[0] = -top.where[k] * fit.scale / rate;
        by[k] = fit.scale;
        fit.slopes.push_back(top.where[k] * fit.scale);
        fit.standard_errors.push_back(std::sqrt(dot(by, information.solved(by))));
        if (!(fit.standard_errors.back() < 1e4 * fit.scale * least_error(surface, k - 1)))
            fit.outcome = FitOutcome::only_bounds_apart;
    }
    return fit;
}

LikelihoodRatio likelihood_ratio(const RegressionFit& free, const RegressionFit& held, double values) {
    LikelihoodRatio out;
    const auto freed = static_cast<double>(free.slopes.size());
    out.numerator_df = freed - static_cast<double>(held.slopes.size());
    out.denominator_df = values - freed;
    const double gain = std::max(0.0, 2 * (free.log_likelihood - held.log_likelihood) / values);
    out.f_ratio = std::expm1(gain) * out.denominator_df / out.numerator_df;
    out.p = f_above(out.f_ratio, out.numerator_df, out.denominator_df);
    return out;
}

}  // namespace ebbtide::stats
