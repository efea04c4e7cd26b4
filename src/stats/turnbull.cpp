#include "stats/turnbull.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "stats/proportion.hpp"

namespace ebbtide::stats {
namespace {

constexpr double without_end = std::numeric_limits<double>::infinity();

/// An end of an observation. At equal values a closed left end comes first, then right ends (all closed),
/// then open left ends: then a left end right before a right one encloses a place that all intervals around
/// it share.
struct End {
    double value;
    int order;
    std::size_t observation;
    [[nodiscard]] bool left() const { return order != 1; }
};

/// Portions and, for every observation, which of them lie inside it: a stretch [first, last].
struct Places {
    std::vector<Portion> portions;
    std::vector<std::size_t> first, last;
};

Places places_of(std::span<const Observation> sample) {
    std::vector<End> ends;
    for (std::size_t i = 0; i < sample.size(); ++i) {
        const Observation& one = sample[i];
        const bool exact = one.known == Known::exactly;
        const double from = one.known == Known::at_most ? 0 : one.value;
        const double to = one.known == Known::at_least  ? without_end
                          : one.known == Known::between ? one.upper
                                                        : one.value;
        ends.push_back({from, exact ? 0 : 2, i});
        ends.push_back({to, 1, i});
    }
    std::ranges::sort(ends, [](const End& a, const End& b) {
        return a.value != b.value ? a.value < b.value : a.order < b.order;
    });
    Places places;
    places.first.resize(sample.size());
    places.last.resize(sample.size());
    for (std::size_t i = 0; i < ends.size(); ++i) {
        const End& end = ends[i];
        if (end.left()) {
            places.first[end.observation] = places.portions.size();
        } else {
            if (ends[i - 1].left())
                places.portions.push_back({ends[i - 1].value,
                                           end.value == without_end ? std::nullopt : std::optional(end.value),
                                           0, 1});
            places.last[end.observation] = places.portions.size() - 1;
        }
    }
    return places;
}

/// One step of self-consistency: each observation is spread over its portions in proportion to their shares.
class Steps {
  public:
    Steps(std::span<const Observation> sample, const Places& places)
        : sample_(sample), places_(places), count_(count_of(sample)) {}

    /// The next shares; sets log_likelihood and excess, which belong to `shares`.
    std::vector<double> after(const std::vector<double>& shares) {
        const std::size_t size = shares.size();
        std::vector<double> sum(size + 1, 0.0), rise(size + 1, 0.0);
        for (std::size_t j = 0; j < size; ++j) sum[j + 1] = sum[j] + shares[j];
        log_likelihood = 0;
        for (std::size_t i = 0; i < sample_.size(); ++i) {
            const std::size_t first = places_.first[i], last = places_.last[i];
            // A portion of its own keeps its digits beside large sums.
            const double inside = first == last ? shares[first] : sum[last + 1] - sum[first];
            const double weight = sample_[i].count / inside;
            rise[first] += weight;
            rise[last + 1] -= weight;
            log_likelihood += sample_[i].count * std::log(inside);
        }
        std::vector<double> next(size);
        double expected = 0, total = 0;
        excess = 0;
        for (std::size_t j = 0; j < size; ++j) {
            expected += rise[j];
            excess = std::max(excess, expected / count_ - 1);
            next[j] = shares[j] * std::max(expected, 0.0) / count_;
            total += next[j];
        }
        for (double& share : next) share /= total;
        return next;
    }
    [[nodiscard]] double count() const { return count_; }

    double log_likelihood = 0;
    double excess = 0;

  private:
    std::span<const Observation> sample_;
    const Places& places_;
    double count_;
};

/// Two steps carried on in their direction (R. Varadhan and C. Roland, Scand. J. Stat. 35 (2008) 335), where
/// that keeps every share above zero: a share of zero could never grow again.
std::vector<double> carried_on(const std::vector<double>& a, const std::vector<double>& b,
                               const std::vector<double>& c) {
    double r = 0, v = 0;
    for (std::size_t j = 0; j < a.size(); ++j) {
        r += (b[j] - a[j]) * (b[j] - a[j]);
        v += (c[j] - 2 * b[j] + a[j]) * (c[j] - 2 * b[j] + a[j]);
    }
    if (!(v > 0)) return c;
    const double length = std::max(1.0, std::sqrt(r / v));
    std::vector<double> out(a.size());
    double total = 0;
    for (std::size_t j = 0; j < a.size(); ++j) {
        out[j] = a[j] + 2 * length * (b[j] - a[j]) + length * length * (c[j] - 2 * b[j] + a[j]);
        if (!(out[j] > 1e-3 * c[j])) out[j] = c[j];
        total += out[j];
    }
    for (double& share : out) share /= total;
    return out;
}

}  // namespace

TurnbullEstimate turnbull(std::span<const Observation> sample) {
    constexpr double near_enough = 1e-8;
    constexpr int most_rounds = 20'000;
    Places places = places_of(sample);
    Steps steps(sample, places);
    TurnbullEstimate out;
    std::vector<double> shares(places.portions.size(), 1.0 / static_cast<double>(places.portions.size()));
    for (;; ++out.rounds) {
        const std::vector<double> once = steps.after(shares);
        out.log_likelihood = steps.log_likelihood;
        // The log-likelihood is concave, so no other shares can gain more than their first-order rise.
        out.short_of_largest = steps.count() * steps.excess;
        out.converged = out.short_of_largest <= near_enough;
        if (out.converged || out.rounds >= most_rounds) break;
        const std::vector<double> twice = steps.after(once);
        std::vector<double> further = carried_on(shares, once, twice);
        const double before = steps.log_likelihood;
        (void)steps.after(further);
        shares = steps.log_likelihood >= before ? std::move(further) : twice;
    }
    double left = 1;
    for (std::size_t j = 0; j < shares.size(); ++j) {
        left -= shares[j];
        places.portions[j].share = shares[j];
        places.portions[j].survival = std::max(left, 0.0);
    }
    places.portions.back().survival = 0;
    out.portions = std::move(places.portions);
    return out;
}

ConfidenceInterval counted_bounds(std::span<const Observation> sample, double time, double confidence) {
    double longer = 0, shorter = 0, all = 0;
    for (const Observation& one : sample) {
        all += one.count;
        const bool has_lower = one.known != Known::at_most, has_upper = one.known != Known::at_least;
        const double upper = one.known == Known::between ? one.upper : one.value;
        if (has_lower && (one.known == Known::exactly ? one.value > time : one.value >= time))
            longer += one.count;
        else if (has_upper && upper <= time)
            shorter += one.count;
    }
    const int n = static_cast<int>(all);
    return {clopper_pearson(static_cast<int>(longer), n, confidence).low,
            clopper_pearson(n - static_cast<int>(shorter), n, confidence).high};
}

}  // namespace ebbtide::stats
