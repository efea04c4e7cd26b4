#include "stats/log_sample.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numbers>

#include "stats/distributions.hpp"

namespace ebbtide::stats {
namespace {

constexpr double infinite = std::numeric_limits<double>::infinity();
constexpr double log_root_two_pi = 0.91893853320467274178;

/// Logarithm of a share, and its first and second derivative in z.
struct Term {
    double value, slope, bend;
};
/// The same of the share between two places: slopes in the lower one (a), the upper one (b).
struct PairTerm {
    double value, by_a, by_b, a_a, a_b, b_b;
};

/// The standard normal law.
struct Normal {
    static Term density(double z) { return {-0.5 * z * z - log_root_two_pi, -z, -1}; }
    static Term above(double z) {
        if (z > 25) {  // the tail's asymptotic series; the next term is under 1e-11 of this one
            const double y = 1 / (z * z);
            const double series = 1 - y * (1 - y * (3 - y * (15 - y * (105 - y * 945))));
            const double hazard = z / series;
            return {-0.5 * z * z - log_root_two_pi - std::log(hazard), -hazard, -hazard * (hazard - z)};
        }
        const double share = 0.5 * std::erfc(z / std::numbers::sqrt2);
        const double hazard = std::exp(-0.5 * z * z - log_root_two_pi) / share;
        return {std::log(share), -hazard, -hazard * (hazard - z)};
    }
    static Term below(double z) {
        const Term mirrored = above(-z);
        return {mirrored.value, -mirrored.slope, mirrored.bend};
    }
    static PairTerm between(double a, double b) {
        if (a + b < 0) {
            const PairTerm m = between(-b, -a);
            return {m.value, -m.by_b, -m.by_a, m.b_b, m.a_b, m.a_a};
        }
        const Term from = above(a), to = above(b);
        const double value = from.value + std::log(-std::expm1(to.value - from.value));
        const double at_a = -std::exp(density(a).value - value), at_b = std::exp(density(b).value - value);
        return {value, at_a, at_b, -at_a * (a + at_a), -at_a * at_b, -at_b * (b + at_b)};
    }
};

/// The standard law of the smallest extreme value.
struct Extreme {
    /// Beyond 700 the exponential would leave the numbers there are; the terms are as good as infinite.
    static double power(double z) { return std::exp(std::min(z, 700.0)); }

    static Term density(double z) {
        const double u = power(z);
        return {z - u, 1 - u, -u};
    }
    static Term above(double z) {
        const double u = power(z);
        return {-u, -u, -u};
    }
    static Term below(double z) {
        const double u = power(z);
        const double slope = u > 700 ? 0 : u / std::expm1(u);
        return {std::log(-std::expm1(-u)), slope, slope * (1 - u - slope)};
    }
    static PairTerm between(double a, double b) {
        const double u = power(a), v = power(b);
        const double gap = u * std::expm1(std::min(b - a, 700.0)), share = -std::expm1(-gap);
        const double at_a = -u / share, at_b = gap > 700 ? 0 : v * std::exp(-gap) / share;
        return {std::log(share) - u,          at_a,         at_b,
                at_a * (1 - u) - at_a * at_a, -at_a * at_b, at_b * (1 - v) - at_b * at_b};
    }
};

/// Gauss and Legendre's six points.
constexpr std::array<double, 3> places{0.238619186083196909, 0.661209386466264514, 0.932469514203152028};
constexpr std::array<double, 3> weights{0.467913934572691047, 0.360761573048138608, 0.171324492379170345};

void add(LogLikelihood& sum, const Term& term, double x, double count) {
    sum.value += count * term.value;
    sum.by_rate += count * term.slope * x;
    sum.by_shift -= count * term.slope;
    sum.rate_rate += count * term.bend * x * x;
    sum.rate_shift -= count * term.bend * x;
    sum.shift_shift += count * term.bend;
}

/// A place between two that lie close together: the density's logarithm averaged over the stretch, where a
/// difference of shares would lose its digits. Slopes are means of the density's own, curvatures its mean
/// curvature and the variance of its slope.
template <class Law>
void add_narrow(LogLikelihood& sum, double rate, double shift, double low, double high, double count) {
    const double middle = (low + high) / 2, half = (high - low) / 2;
    const double at_middle = Law::density(rate * middle - shift).value;
    struct Point {
        double weight, by_rate, by_shift;
    };
    std::array<Point, 6> points;
    double share = 0, by_rate = 0, by_shift = 0, rate_rate = 0, rate_shift = 0, shift_shift = 0;
    for (std::size_t k = 0; k < points.size(); ++k) {
        const double x = middle + (k % 2 == 0 ? half : -half) * places[k / 2];
        const Term term = Law::density(rate * x - shift);
        const double weight = weights[k / 2] / 2 * std::exp(term.value - at_middle);
        points[k] = {weight, term.slope * x, -term.slope};
        share += weight;
        by_rate += weight * points[k].by_rate;
        by_shift += weight * points[k].by_shift;
        rate_rate += weight * term.bend * x * x;
        rate_shift -= weight * term.bend * x;
        shift_shift += weight * term.bend;
    }
    by_rate /= share;
    by_shift /= share;
    for (const Point& point : points) {
        const double a = point.by_rate - by_rate, b = point.by_shift - by_shift;
        rate_rate += point.weight * a * a;
        rate_shift += point.weight * a * b;
        shift_shift += point.weight * b * b;
    }
    sum.value += count * (at_middle + std::log(2 * half * rate * share));
    sum.by_rate += count * (by_rate + 1 / rate);
    sum.by_shift += count * by_shift;
    sum.rate_rate += count * (rate_rate / share - 1 / (rate * rate));
    sum.rate_shift += count * rate_shift / share;
    sum.shift_shift += count * shift_shift / share;
}

template <class Law>
void add_between(LogLikelihood& sum, double rate, double shift, double low, double high, double count) {
    const double a = rate * low - shift, b = rate * high - shift;
    if ((b - a) * (1 + std::abs(Law::density((a + b) / 2).slope)) < 0.5) {
        add_narrow<Law>(sum, rate, shift, low, high, count);
        return;
    }
    const PairTerm term = Law::between(a, b);
    sum.value += count * term.value;
    sum.by_rate += count * (term.by_a * low + term.by_b * high);
    sum.by_shift -= count * (term.by_a + term.by_b);
    sum.rate_rate += count * (term.a_a * low * low + 2 * term.a_b * low * high + term.b_b * high * high);
    sum.rate_shift -= count * (term.a_a * low + term.a_b * (low + high) + term.b_b * high);
    sum.shift_shift += count * (term.a_a + 2 * term.a_b + term.b_b);
}

}  // namespace

double standard_quantile(Family family, double probability) {
    return family == Family::lognormal ? normal_quantile(probability) : std::log(-std::log1p(-probability));
}

double standard_above(Family family, double z) {
    return family == Family::lognormal ? normal_below(-z) : std::exp(-std::exp(z));
}

LogSample::LogSample(std::span<const Observation> sample, Family family)
    : family_(family), highest_lower_(-infinite), lowest_upper_(infinite) {
    values_.reserve(sample.size());
    bounds_.reserve(sample.size());
    double count = 0, sum = 0, squares = 0;
    const auto take = [&](double x, double times) {
        count += times;
        sum += times * x;
        squares += times * x * x;
    };
    for (const Observation& one : sample) {
        const double x = std::log(one.value);
        const bool exact = one.known == Known::exactly;
        double upper = x;
        if (exact) {
            values_.push_back({x, one.count});
            exact_ += one.count;
            exact_sum_ += one.count * x;
        } else {
            if (one.known == Known::between) upper = std::log(one.upper);
            bounds_.push_back({one.known, x, upper, one.count});
        }
        take((x + upper) / 2, one.count);
        if (one.known != Known::at_most) highest_lower_ = std::max(highest_lower_, x);
        if (one.known != Known::at_least) lowest_upper_ = std::min(lowest_upper_, upper);
    }
    centre_ = sum / count;
    const double variance = squares / count - centre_ * centre_;
    scale_ = variance > 1e-24 * (1 + centre_ * centre_) ? std::sqrt(variance) : 1;
    constant_ = -exact_sum_ - exact_ * std::log(scale_);
    exact_sum_ = 0;
    for (Exact& one : values_) {
        one.x = (one.x - centre_) / scale_;
        exact_sum_ += one.count * one.x;
        exact_squares_ += one.count * one.x * one.x;
    }
    for (Censored& one : bounds_) {
        one.x = (one.x - centre_) / scale_;
        one.upper = (one.upper - centre_) / scale_;
    }
}

template <class Law>
LogLikelihood LogSample::sum(double rate, double shift) const {
    LogLikelihood out;
    for (const Censored& one : bounds_) {
        if (one.known == Known::at_least)
            add(out, Law::above(rate * one.x - shift), one.x, one.count);
        else if (one.known == Known::at_most)
            add(out, Law::below(rate * one.x - shift), one.x, one.count);
        else
            add_between<Law>(out, rate, shift, one.x, one.upper, one.count);
    }
    return out;
}

LogLikelihood LogSample::at(double rate, double shift) const {
    LogLikelihood out;
    if (family_ == Family::lognormal) {
        out = sum<Normal>(rate, shift);
        // Of values known exactly the normal law asks for no more than their sums.
        out.value -= 0.5 * (rate * rate * exact_squares_ - 2 * rate * shift * exact_sum_) +
                     exact_ * (0.5 * shift * shift + log_root_two_pi);
        out.by_rate -= rate * exact_squares_ - shift * exact_sum_;
        out.by_shift += rate * exact_sum_ - shift * exact_;
        out.rate_rate -= exact_squares_;
        out.rate_shift += exact_sum_;
        out.shift_shift -= exact_;
    } else {
        out = sum<Extreme>(rate, shift);
        for (const Exact& one : values_) add(out, Extreme::density(rate * one.x - shift), one.x, one.count);
    }
    out.value += exact_ * std::log(rate) + constant_;
    out.by_rate += exact_ / rate;
    out.rate_rate -= exact_ / (rate * rate);
    return out;
}

}  // namespace ebbtide::stats
