#include "decay/through_sensor.hpp"

#include <algorithm>
#include <boost/math/quadrature/gauss.hpp>
#include <cmath>
#include <utility>
#include <vector>

#include "lanes/exp_log.hpp"

namespace ebbtide::decay {
namespace {

constexpr double gone = 50;  // exp(-50) is 2e-22: nothing beside what the law was at the release

/// A decay as much faster than the sensor shows as a step: for less, only amplitude times T would be known.
constexpr double hidden = 30;

/// The sensor's answer to exp(-a u) from its rest, and its slope by log(1/a).
///
/// With b = 1/s the answer is b (exp(-a u) - exp(-b u)) / (b - a): a divided difference, taken from the
/// slower of the two so that nothing cancels.
struct Answer {
    double value = 0, slope = 0;

    Answer(double a, double b, double u) {
        const double fast = std::max(a, b) * u, slow = std::min(a, b) * u;
        if (slow > gone) return;
        const double apart = fast - slow, fall = std::exp(-slow);
        const double mean = apart > 0 ? -std::expm1(-apart) / apart : 1;
        // (1 - mean) / apart; below, what the series leaves out is smaller than what the difference loses.
        const double bend = apart > 1e-2
                                ? (1 - mean) / apart
                                : 1.0 / 2 - apart / 6 + apart * apart / 24 - apart * apart * apart / 120 +
                                      apart * apart * apart * apart / 720;
        value = b * u * fall * mean;
        slope = a * u * b * u * fall * (a < b ? bend : mean - bend);
    }
};

/// One column and, unless it is empty, its slope by log T: `sum` with T for a time constant, seen through the
/// sensor.
///
/// Until sum.from T the law stays at 1 and only what the start had too much falls; from there on each mode is
/// answered by itself. `from` may be any moment up to which the law is 1: it stays where it is when T moves.
/// Away from b = 1/s the answers to all modes share one exp(-b u).
void add_modes(const Sensor& sensor, const ModeSum& sum, double T, std::span<const double> t,
               std::span<double> column, std::span<double> slope) {
    constexpr double apart = 0.05;  // of rate and 1/s, over 1/s: costs two digits at most
    const double b = 1 / sensor.lag_s, from = sum.from * T, excess = sensor.start_ratio - 1;
    std::vector<double> u(t.size()), fall(t.size());
    for (std::size_t i = 0; i < t.size(); ++i) u[i] = std::max(t[i] - from, 0.0);

    double rest = 1, rest_slope = 0;  // of exp(-b u)
    std::ranges::fill(column, 0);
    std::ranges::fill(slope, 0);
    for (std::size_t k = 0; k < sum.rate.size(); ++k) {
        const double a = sum.rate[k] / T, gap = b - a;
        if (std::abs(gap) < apart * b) {
            for (std::size_t i = 0; i < u.size(); ++i) {
                const Answer answer(a, b, u[i]);
                column[i] += sum.weight[k] * answer.value;
                if (!slope.empty()) slope[i] += sum.weight[k] * (answer.slope + a * from * answer.value);
            }
            continue;
        }
        const double share = sum.weight[k] * b / gap, later = from - 1 / gap;
        rest -= share;
        rest_slope -= share * a * later;
        const std::size_t count = write_fall(u, a, gone, fall);
        for (std::size_t i = 0; i < count; ++i) column[i] += share * fall[i];
        if (slope.empty()) continue;
        for (std::size_t i = 0; i < count; ++i) slope[i] += share * a * (u[i] + later) * fall[i];
    }
    const std::size_t count = write_fall(u, b, gone, fall);
    for (std::size_t i = 0; i < count; ++i) column[i] += rest * fall[i];
    if (!slope.empty())
        for (std::size_t i = 0; i < count; ++i) slope[i] += rest_slope * fall[i];
    if (excess == 0) return;
    for (std::size_t i = 0; i < t.size(); ++i) fall[i] = -b * t[i];
    lanes::exp_all(fall, fall);
    for (std::size_t i = 0; i < t.size(); ++i) column[i] += excess * fall[i];
}

/// Moments of the past and how much of what the law was then the sensor shows now: weight * exp(-faded).
struct Nodes {
    std::vector<double> at, weight, faded;

    void add(double u, double w, double lags_ago) {
        at.push_back(u);
        weight.push_back(w);
        faded.push_back(-lags_ago);
    }
    /// Weights as they are.
    void fade() {
        lanes::exp_all(faded, faded);
        for (std::size_t k = 0; k < weight.size(); ++k) weight[k] *= faded[k];
    }
    void clear() {
        at.clear();
        weight.clear();
        faded.clear();
    }
    /// From `from` to `to`, seen at `now`: Gauss and Legendre.
    template <unsigned points>
    void add_stretch(double from, double to, double now, double b) {
        using Rule = boost::math::quadrature::gauss<double, points>;
        const double middle = (from + to) / 2, half = (to - from) / 2;
        for (std::size_t k = 0; k < Rule::abscissa().size(); ++k)
            for (const double side : {-1.0, 1.0}) {
                const double u = middle + side * half * Rule::abscissa()[k];
                add(u, Rule::weights()[k] * half * b, b * (now - u));
            }
    }
};

constexpr double forgotten = 30;  // lags: exp(-30) is 1e-13

/// All the past. Laws that are smooth in log t have anything from a kink to a cliff at t = 0; the
/// substitution u = t / (1 + exp(-y)), y = 6 sinh q, draws both ends out so far that the trapezoidal rule is
/// exact to the digits wanted. Once the start is forgotten a few stretches of the past suffice.
void add_past(Nodes& nodes, double t, double b, double sharpness) {
    const double lags = b * t;
    if (lags > forgotten) {
        const double pieces = std::ceil(sharpness / 3);
        double since = 0;
        for (const double until : {2.0, 5.0, 10.0, 18.0, forgotten}) {
            const double step = (until - since) / pieces;
            for (double piece = 0; piece < pieces; ++piece)
                nodes.add_stretch<10>(t - (since + (piece + 1) * step) / b, t - (since + piece * step) / b, t,
                                      b);
            since = until;
        }
        return;
    }
    const double step = 0.055 / sharpness;
    const auto left = static_cast<int>(std::ceil(std::asinh(30 / 6.0) / step));
    const auto right = static_cast<int>(std::ceil(std::asinh(34 / 6.0) / step));
    for (int k = -left; k <= right; ++k) {
        const double q = k * step, y = 6 * std::sinh(q);
        const double share = 1 / (1 + std::exp(-y)), rest = 1 / (1 + std::exp(y));
        const double weight = step * 6 * std::cosh(q) * share * rest * lags * std::exp(-lags * rest);
        if (weight > 1e-18) nodes.add(t * share, weight, 0);
    }
}

/// What the sensor shows at some rows, from what it showed at the row before or from the start.
class SeenRows {
  public:
    SeenRows(const Sensor& sensor, double sharpness)
        : b_(1 / sensor.lag_s), ratio_(sensor.start_ratio), sharpness_(sharpness) {}

    void add(std::size_t row, double t, double before, bool first) {
        const double step = t - before;
        if (!first && step >= 0 && b_ * step < 4 && step <= 0.5 * before / sharpness_) {
            if (step > 0 && b_ * step < 0.5 && step < 0.1 * before / sharpness_)
                nodes_.add_stretch<4>(before, t, t, b_);
            else if (step > 0)
                nodes_.add_stretch<10>(before, t, t, b_);
            rows_.push_back({row, std::exp(-b_ * step), 0, nodes_.at.size()});
        } else {
            add_past(nodes_, t, b_, sharpness_);
            rows_.push_back({row, 0, ratio_ * std::exp(-b_ * t), nodes_.at.size()});
        }
    }
    [[nodiscard]] bool many() const { return nodes_.at.size() > 4096; }

    void write(const fit::Law& inner, std::span<const double> theta, fit::Block columns, fit::Block slopes) {
        nodes_.fade();
        const auto count = static_cast<Eigen::Index>(nodes_.at.size());
        past_.resize(count, columns.cols());
        past_slopes_.resize(count, slopes.cols());
        if (count > 0) inner.evaluate(nodes_.at, theta, past_, past_slopes_);
        for (Eigen::Index j = 0; j < columns.cols(); ++j)
            sum_up(past_.col(j).data(), true, columns.col(j).data());
        for (Eigen::Index j = 0; j < slopes.cols(); ++j)
            sum_up(past_slopes_.col(j).data(), false, slopes.col(j).data());
        rows_.clear();
        nodes_.clear();
    }

  private:
    /// One column or slope, at the nodes and at the rows.
    void sum_up(const double* past, bool with_start, double* seen) const {
        std::size_t node = 0;
        for (const Row& row : rows_) {
            double sum = with_start ? row.start : 0;
            for (; node < row.end; ++node) sum += nodes_.weight[node] * past[node];
            seen[row.index] = row.kept > 0 ? sum + row.kept * seen[row.index - 1] : sum;
        }
    }

    struct Row {
        std::size_t index;
        double kept;      ///< of the row before
        double start;     ///< what is left of y(0)
        std::size_t end;  ///< of its nodes
    };
    double b_, ratio_, sharpness_;
    Nodes nodes_;
    std::vector<Row> rows_;
    Eigen::MatrixXd past_, past_slopes_;
};

}  // namespace

fit::Law through_sensor(fit::Law law, const Sensor& sensor, const ModeSum& sum) {
    law.from_zero = true;
    law.keeps_x = true;
    for (fit::ShapeParameter& parameter : law.shape) parameter.lowest = sensor.lag_s / hidden;
    law.evaluate = [sensor, sum](std::span<const double> t, std::span<const double> theta, fit::Block columns,
                                 fit::Block slopes) {
        for (std::size_t j = 0; j < theta.size(); ++j)
            add_modes(sensor, sum, theta[j], t, fit::column_of(columns, j),
                      slopes.cols() > 0 ? fit::column_of(slopes, j) : std::span<double>{});
    };
    return law;
}

fit::Law through_sensor(fit::Law law, const Sensor& sensor, const Sharpness& sharpness) {
    fit::Law seen = law;
    seen.from_zero = true;
    seen.keeps_x = true;
    seen.evaluate = [sensor, sharpness, inner = std::move(law)](std::span<const double> t,
                                                                std::span<const double> theta,
                                                                fit::Block columns, fit::Block slopes) {
        SeenRows rows(sensor, std::max(1.0, sharpness(theta)));
        for (std::size_t i = 0; i < t.size(); ++i) {
            rows.add(i, t[i], i ? t[i - 1] : 0, i == 0);
            if (rows.many() || i + 1 == t.size()) rows.write(inner, theta, columns, slopes);
        }
    };
    return seen;
}

}  // namespace ebbtide::decay
