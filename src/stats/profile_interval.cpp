#include "stats/profile_interval.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "stats/distributions.hpp"

namespace ebbtide::stats {
namespace {

/// A point of the plane in which the log-likelihood is concave, and what it is there.
struct Point {
    double rate = 0, shift = 0;
    LogLikelihood at;
};

/// With a figure held, rate and shift lie on a line: start + t * (rate, shift).
struct Line {
    double start_rate, start_shift, rate, shift;
};

/// Each figure: the line where it has a value, and the slope of the log-likelihood in it at a point.
struct LocationLine {
    static Line held(double value) { return {0, 0, 1, value}; }
    static double slope(const Point& point) { return point.at.by_shift * point.rate; }
};
struct LogScaleLine {
    static Line held(double value) { return {std::exp(-value), 0, 0, 1}; }
    static double slope(const Point& point) { return -point.at.by_rate * point.rate; }
};
struct QuantileLine {
    double z;
    [[nodiscard]] Line held(double value) const { return {0, -z, 1, value}; }
    static double slope(const Point& point) { return point.at.by_shift * point.rate; }
};
/// Where a fixed time stands in the standardised law.
struct PlaceLine {
    double x;
    [[nodiscard]] Line held(double value) const { return {0, -value, 1, x}; }
    static double slope(const Point& point) { return -point.at.by_shift; }
};

/// The highest point of the line, from the place nearest to `from`.
Point top_of(const LogSample& sample, const Line& line, const Point& from) {
    const auto point_at = [&](double t) {
        Point point{line.start_rate + t * line.rate, line.start_shift + t * line.shift, {}};
        point.at = sample.at(point.rate, point.shift);
        return point;
    };
    double t = line.rate > 0 ? from.rate : from.shift;
    Point top = point_at(t);
    for (int step = 0; step < 100; ++step) {
        const double slope = top.at.by_rate * line.rate + top.at.by_shift * line.shift;
        const double bend = top.at.rate_rate * line.rate * line.rate +
                            2 * top.at.rate_shift * line.rate * line.shift +
                            top.at.shift_shift * line.shift * line.shift;
        double move = -slope / bend;
        if (!std::isfinite(move) || slope * move <= 1e-17 * (1 + std::abs(top.at.value))) break;
        if (line.rate > 0 && t + move <= 0) move = -0.9 * t;
        Point next = point_at(t + move);
        for (int halving = 0; halving < 60 && !(next.at.value >= top.at.value); ++halving) {
            move /= 2;
            next = point_at(t + move);
        }
        if (!(next.at.value >= top.at.value)) break;
        t += move;
        top = next;
    }
    return top;
}

template <class Figure>
std::optional<double> end_of(const LogSample& sample, const Figure& figure, const Point& best,
                             double estimate, double first_guess, double fall) {
    const double wanted = std::sqrt(2 * fall), side = first_guess > estimate ? 1 : -1;
    // The signed root of the fall is nearly a straight line in the figure: Newton's steps on it, kept
    // between what is known to lie inside and outside.
    double inside = 0, outside = 0;  // distances from the estimate; 0: none known yet
    double distance = std::abs(first_guess - estimate);
    const double furthest = 1e4 * distance;
    Point point = best;
    for (int step = 0; step < 100 && distance < furthest; ++step) {
        point = top_of(sample, figure.held(estimate + side * distance), point);
        const double root = std::sqrt(2 * std::max(0.0, best.at.value - point.at.value));
        if (!std::isfinite(root)) return {};
        if (std::abs(root - wanted) <= 1e-10 * wanted) return estimate + side * distance;
        (root < wanted ? inside : outside) = distance;
        if (outside > 0 && outside - inside <= 1e-13 * outside) return estimate + side * distance;
        const double slope = -side * figure.slope(point) / std::max(root, 1e-3);
        double next = distance + (wanted - root) / slope;
        if (outside > 0 && !(next > inside && next < outside)) next = (inside + outside) / 2;
        if (outside == 0 && !(next > inside && next < 4 * inside)) next = 4 * inside;
        distance = next;
    }
    return {};
}

template <class Figure>
ConfidenceInterval interval_of(const LogSample& sample, const CensoredFit& fit, const Figure& figure,
                               double estimate, double error, double fall) {
    Point best{sample.scale() / fit.scale, (fit.location - sample.centre()) / fit.scale, {}};
    best.at = sample.at(best.rate, best.shift);
    const double reach = std::sqrt(2 * fall) * error;
    return {end_of(sample, figure, best, estimate, estimate - reach, fall),
            end_of(sample, figure, best, estimate, estimate + reach, fall)};
}

/// From the sample's own units to those of logarithms of seconds.
ConfidenceInterval unscaled(ConfidenceInterval interval, const LogSample& sample) {
    for (std::optional<double>* end : {&interval.low, &interval.high})
        if (*end) *end = sample.centre() + sample.scale() * **end;
    return interval;
}

}  // namespace

double likelihood_fall(double confidence) {
    const double z = normal_quantile((1 + confidence) / 2);
    return z * z / 2;
}

double likelihood_fall(double confidence, double specimens) {
    const double n = std::max(specimens, 2.0), t = students_t_quantile((1 + confidence) / 2, n - 1);
    return n / 2 * std::log1p(t * t / (n - 1));
}

ConfidenceInterval interval_of_location(const LogSample& sample, const CensoredFit& fit, double fall) {
    return unscaled(
        interval_of(sample, fit, LocationLine{}, (fit.location - sample.centre()) / sample.scale(),
                    std::sqrt(fit.variance_location) / sample.scale(), fall),
        sample);
}

ConfidenceInterval interval_of_scale(const LogSample& sample, const CensoredFit& fit, double fall) {
    ConfidenceInterval out = interval_of(sample, fit, LogScaleLine{}, std::log(fit.scale / sample.scale()),
                                         std::sqrt(fit.variance_log_scale), fall);
    for (std::optional<double>* end : {&out.low, &out.high})
        if (*end) *end = sample.scale() * std::exp(**end);
    return out;
}

ConfidenceInterval interval_of_log_quantile(const LogSample& sample, const CensoredFit& fit,
                                            double probability, double fall) {
    const QuantileLine figure{standard_quantile(fit.family, probability)};
    return unscaled(
        interval_of(sample, fit, figure, (fit.log_quantile(probability) - sample.centre()) / sample.scale(),
                    fit.error_of_log_quantile(probability) / sample.scale(), fall),
        sample);
}

ConfidenceInterval interval_of_share_beyond(const LogSample& sample, const CensoredFit& fit, double time,
                                            double fall) {
    const double x = std::log(time), z = (x - fit.location) / fit.scale;
    const double error = std::sqrt(fit.variance_location / (fit.scale * fit.scale) +
                                   2 * z / fit.scale * fit.covariance + z * z * fit.variance_log_scale);
    const ConfidenceInterval place =
        interval_of(sample, fit, PlaceLine{(x - sample.centre()) / sample.scale()}, z, error, fall);
    // The further up the time stands in the law, the smaller the share beyond it.
    return {place.high ? standard_above(fit.family, *place.high) : 0,
            place.low ? standard_above(fit.family, *place.low) : 1};
}

}  // namespace ebbtide::stats
