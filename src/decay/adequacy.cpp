#include "decay/adequacy.hpp"

#include <fmt/format.h>

#include <Eigen/Core>
#include <algorithm>
#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/fisher_f.hpp>
#include <boost/math/special_functions/binomial.hpp>
#include <cmath>
#include <limits>
#include <vector>

#include "fit/lag_noise.hpp"

namespace ebbtide::decay {
namespace {

// Chances are those of a known memory; that it is estimated makes them up to twice as large.
constexpr double false_alarm = 0.0005;
constexpr double looks = 4;  // for a wave, runs, memory of rows, memory of samples: each gets a quarter of it
constexpr std::size_t most_rows = 128;  // means of as many samples each
constexpr double excluded = 3;          // log likelihood below the best from which a noise is ruled out
// Of some hundred points the far tail of Ljung and Box's sum is heavier than that of chi squared, by as much
// at one in a thousand (seen in seeded traces).
constexpr double heavy_tail = 4;
constexpr double audible = 0.1;             // smallest correlation of samples that counts
constexpr std::size_t most_samples = 4096;  // whose correlation is looked at

using Rows = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>;

/// The linear picture of the question: residual = parameters a little different + free curve + noise. A row
/// is the mean of some neighbours by ascending x, each divided by its sigma.
struct Picture {
    std::vector<double> x;     ///< of a row
    std::vector<double> span;  ///< from its first sample to its last
    std::vector<double> samples;
    Rows columns;  ///< [law by its parameters | free curve by its knots | residual]
    Eigen::Index of_law = 0;
    double floor = 0;  ///< standard deviation of a row that the recorder's step, or rounding, explains
};

/// Memory of noise whose samples have variance 1.
struct Memory {
    double share = 0;        ///< of the variance that is band-limited
    double correlation = 0;  ///< unit of x
};

/// The band-limited part of a row, a mean of even samples over a span.
struct Mean {
    double variance = 1;  ///< mean of keep^distance over all pairs
    double to_end = 1;    ///< mean of keep^distance to the last sample, or the first
};
Mean mean_of_band(double samples, double span, double correlation) {
    if (samples < 2) return {};
    const double step = span / (samples - 1) / correlation;
    if (step < 1e-4) return {};
    const double keep = std::exp(-step), lost = -std::expm1(-step);
    const double sum = -std::expm1(-step * samples) / lost;  // of keep^0 ... keep^(samples - 1)
    const double pairs = (1 + keep - 2 * keep * sum / samples) / lost;
    return {std::min(1.0, pairs / samples), sum / samples};
}

struct Whitened {
    Rows rows;
    double log_determinant = 0;  ///< of the covariance of the rows
    double row_variance = 0;     ///< their mean variance
};

/// Rows of such noise turned into independent ones of variance 1 by the Kalman filter. Its state is the
/// band-limited part over its own standard deviation; variances of rows and covariances of neighbouring rows
/// are exact.
Whitened whiten(const Picture& picture, const Memory& memory) {
    Whitened out{.rows = picture.columns};
    Eigen::RowVectorXd state = Eigen::RowVectorXd::Zero(out.rows.cols());
    const auto count = static_cast<double>(out.rows.rows());
    double spread = 1;
    Mean before;
    for (std::size_t i = 0; i < picture.x.size(); ++i) {
        auto row = out.rows.row(static_cast<Eigen::Index>(i));
        double expected = (1 - memory.share) / picture.samples[i];
        out.row_variance += expected / count;
        if (memory.share > 0) {
            const Mean mean = mean_of_band(picture.samples[i], picture.span[i], memory.correlation);
            if (i > 0) {
                const double apart =
                    picture.x[i] - picture.x[i - 1] - (picture.span[i] + picture.span[i - 1]) / 2;
                const double covariance =
                    before.to_end * mean.to_end * std::exp(-std::max(0.0, apart) / memory.correlation);
                const double keep = std::min(1.0, covariance / std::sqrt(before.variance * mean.variance));
                state *= keep;
                spread = keep * keep * spread + 1 - keep * keep;
            }
            before = mean;
            const double seen = std::sqrt(memory.share * mean.variance);
            out.row_variance += seen * seen / count;
            expected += seen * seen * spread;
            const double gain = seen * spread / expected;
            row -= seen * state;
            state += gain * row;
            spread *= 1 - seen * gain;
        }
        row /= std::sqrt(expected);
        out.log_determinant += std::log(expected);
    }
    return out;
}

/// The residual taken apart by the columns before it.
struct Reduced {
    Eigen::MatrixXd basis;      ///< of the columns, orthonormal, each less those before it
    Eigen::VectorXd length;     ///< of each beside those before it
    Eigen::VectorXd along;      ///< the residual's part along each
    Eigen::VectorXd after_law;  ///< residual less the law's columns
    double rss_law = 0, rss_free = 0;
};

/// Takes the first `taken` columns of the basis out; returns the parts. Twice is enough for rounding.
Eigen::VectorXd take_out(const Eigen::MatrixXd& basis, Eigen::Index taken, Eigen::VectorXd& column) {
    Eigen::VectorXd along = Eigen::VectorXd::Zero(taken);
    for (int turn = 0; turn < 2; ++turn) {
        const Eigen::VectorXd part = basis.leftCols(taken).transpose() * column;
        column -= basis.leftCols(taken) * part;
        along += part;
    }
    return along;
}

Reduced reduce(const Rows& rows, Eigen::Index of_law) {
    const Eigen::Index count = rows.cols() - 1;
    Reduced out;
    out.basis.resize(rows.rows(), count);
    out.length.resize(count);
    Eigen::VectorXd column;
    for (Eigen::Index k = 0; k < count; ++k) {
        column = rows.col(k);
        take_out(out.basis, k, column);
        out.length(k) = column.norm();
        out.basis.col(k) = out.length(k) > 0 ? Eigen::VectorXd(column / out.length(k)) : column;
    }
    out.after_law = rows.col(count);
    take_out(out.basis, of_law, out.after_law);
    column = out.after_law;
    out.along = take_out(out.basis, count, column);
    out.rss_law = out.after_law.squaredNorm();
    out.rss_free = column.squaredNorm();
    return out;
}

/// Rows of [law | residual]; the way that the law has come by then, and the mean of 1 / sigma.
Picture law_rows(const fit::Law& law, const fit::Fit& fit, const fit::Curve& curve, std::size_t rows,
                 std::vector<double>& covered, std::vector<double>& per_sigma) {
    const std::vector<double> theta = fit.shape(law), amplitude = fit.amplitudes(law);
    const auto columns = static_cast<Eigen::Index>(amplitude.size());
    const auto slopes = static_cast<Eigen::Index>(law.slopes.size());
    const auto parameters = static_cast<Eigen::Index>(fit.parameters.size());
    const Eigen::Map<const Eigen::VectorXd> a(amplitude.data(), columns);
    Picture out;
    out.of_law = parameters;
    out.columns = Rows::Zero(static_cast<Eigen::Index>(rows), parameters + 1);
    double before = 0, travelled = 0;
    for (std::size_t b = 0; b < rows; ++b) {
        const std::size_t first = b * curve.size() / rows, last = (b + 1) * curve.size() / rows;
        const auto count = static_cast<Eigen::Index>(last - first);
        Eigen::MatrixXd phi(count, columns), slope(count, slopes);
        law.evaluate(curve.x.subspan(first, last - first), theta, phi, slope);
        auto row = out.columns.row(static_cast<Eigen::Index>(b));
        double x = 0, value = 0, weights = 0;
        for (Eigen::Index i = 0; i < count; ++i) {
            const std::size_t at = first + static_cast<std::size_t>(i);
            const double weight =
                1 / (static_cast<double>(count) * (curve.sigma.empty() ? 1 : curve.sigma[at]));
            const double y = phi.row(i).dot(a);
            weights += weight;
            row.head(columns) += weight * phi.row(i);
            for (Eigen::Index s = 0; s < slopes; ++s) {
                const fit::Slope& of = law.slopes[static_cast<std::size_t>(s)];
                row(columns + static_cast<Eigen::Index>(of.parameter)) +=
                    weight * amplitude[of.column] * slope(i, s);
            }
            row(parameters) += weight * (curve.y[at] - law.constant - y);
            x += (curve.x[at] - curve.x[first]) / static_cast<double>(count);
            value += y / static_cast<double>(count);
        }
        out.x.push_back(curve.x[first] + x);
        out.span.push_back(curve.x[last - 1] - curve.x[first]);
        out.samples.push_back(static_cast<double>(count));
        if (b > 0) travelled += std::abs(value - before);
        before = value;
        covered.push_back(travelled);
        per_sigma.push_back(weights);
    }
    return out;
}

/// What the recorder's step or rounding may leave, in sigma.
double floor_of(const fit::Curve& curve) {
    double step = std::numeric_limits<double>::infinity(), largest = 0, sigma = 0;
    for (std::size_t i = 0; i < curve.size(); ++i) {
        largest = std::max(largest, std::abs(curve.y[i]));
        sigma = std::max(sigma, curve.sigma.empty() ? 1 : curve.sigma[i]);
        if (i > 0 && curve.y[i] != curve.y[i - 1])
            step = std::min(step, std::abs(curve.y[i] - curve.y[i - 1]));
    }
    return std::max(std::isfinite(step) ? step / std::sqrt(12.0) : 0, 1e-12 * largest) / sigma;
}

/// Columns that say nothing beside those before them are left out, the others made orthonormal: whitened,
/// they are then far from dependent.
Picture independent(const Picture& picture) {
    const Reduced white = reduce(picture.columns, picture.of_law);
    Picture out = picture;
    out.of_law = 0;
    Eigen::Index kept = 0;
    for (Eigen::Index k = 0; k < white.length.size(); ++k) {
        if (!(white.length(k) > 1e-6 * picture.columns.col(k).norm())) continue;
        out.columns.col(kept++) = white.basis.col(k);
        if (k < picture.of_law) out.of_law = kept;
    }
    out.columns.col(kept) = picture.columns.col(picture.columns.cols() - 1);
    out.columns.conservativeResize(Eigen::NoChange, kept + 1);
    return out;
}

std::optional<Picture> picture_of(const fit::Law& law, const fit::Fit& fit, const fit::Curve& curve) {
    const std::size_t per_row = (curve.size() + most_rows - 1) / most_rows;
    const std::size_t rows = curve.size() / per_row;
    std::vector<double> covered, per_sigma;
    Picture picture = law_rows(law, fit, curve, rows, covered, per_sigma);
    if (!picture.columns.allFinite()) return std::nullopt;
    picture.floor = floor_of(curve);

    // Knots at even distances of a clock that runs half by samples and half by the fall.
    const std::size_t knots = std::clamp<std::size_t>(rows / 5, 3, 16);
    const auto n = static_cast<Eigen::Index>(rows);
    const Eigen::VectorXd residual = picture.columns.col(picture.of_law);
    picture.columns.conservativeResize(Eigen::NoChange,
                                       picture.of_law + static_cast<Eigen::Index>(knots) + 1);
    picture.columns.rightCols(static_cast<Eigen::Index>(knots) + 1).setZero();
    picture.columns.col(picture.columns.cols() - 1) = residual;
    for (Eigen::Index i = 0; i < n; ++i) {
        const auto at = static_cast<std::size_t>(i);
        const double by_samples = static_cast<double>(at) / static_cast<double>(rows - 1);
        const double by_fall = covered.back() > 0 ? covered[at] / covered.back() : by_samples;
        const double place = (by_samples + by_fall) / 2 * static_cast<double>(knots - 1);
        const auto knot = std::min(static_cast<std::size_t>(place), knots - 2);
        const Eigen::Index column = picture.of_law + static_cast<Eigen::Index>(knot);
        picture.columns(i, column) = per_sigma[at] * (static_cast<double>(knot) + 1 - place);
        picture.columns(i, column + 1) = per_sigma[at] * (place - static_cast<double>(knot));
    }
    picture = independent(picture);
    if (n < picture.columns.cols() - 1 + 5) return std::nullopt;
    return picture;
}

/// Chance of no more runs of one sign than these, of independent signs as many of each kind.
struct Runs {
    std::size_t seen = 0;
    double expected = 0, chance = 1;
};
Runs runs_of(const Eigen::VectorXd& left) {
    unsigned up = 0, down = 0;
    Runs out;
    for (Eigen::Index i = 0; i < left.size(); ++i) {
        (left(i) > 0 ? up : down) += 1;
        out.seen += i == 0 || (left(i) > 0) != (left(i - 1) > 0);
    }
    if (up == 0 || down == 0) return out;
    const auto ways = [](unsigned n, std::size_t k) {
        return k > n ? 0 : boost::math::binomial_coefficient<double>(n, static_cast<unsigned>(k));
    };
    const double all = ways(up + down, up);
    double sum = 0;
    for (std::size_t runs = 2; runs <= out.seen; ++runs) {
        const std::size_t half = runs / 2;
        sum += runs % 2 == 0 ? 2 * ways(up - 1, half - 1) * ways(down - 1, half - 1)
                             : ways(up - 1, half) * ways(down - 1, half - 1) +
                                   ways(up - 1, half - 1) * ways(down - 1, half);
    }
    out.expected = 1 + 2.0 * up * down / (up + down);
    out.chance = sum / all;
    return out;
}

struct Correlation {
    double largest = 0;
    std::size_t lag = 0;
    double chance = 1;
};
Correlation correlation_of(const Eigen::VectorXd& left, std::size_t lags) {
    Correlation out;
    const auto n = static_cast<double>(left.size());
    const double square = left.squaredNorm();
    double sum = 0;
    for (std::size_t lag = 1; lag <= lags; ++lag) {
        const auto shift = static_cast<Eigen::Index>(lag);
        const Eigen::Index rest = left.size() - shift;
        const double r = left.head(rest).dot(left.tail(rest)) / square;
        sum += r * r / static_cast<double>(rest);
        if (std::abs(r) > std::abs(out.largest)) {
            out.largest = r;
            out.lag = lag;
        }
    }
    const boost::math::chi_squared squares(static_cast<double>(lags));
    out.chance =
        std::min(1.0, heavy_tail * boost::math::cdf(boost::math::complement(squares, n * (n + 2) * sum)));
    return out;
}

std::string words_of(const Correlation& correlation, const std::vector<double>& x) {
    const double gap = (x.back() - x.front()) / static_cast<double>(x.size() - 1);
    return fmt::format("residuals {:.2g} s apart are correlated by {:.2f}, which the noise does not explain",
                       gap * static_cast<double>(correlation.lag), correlation.largest);
}

struct Look {
    double chance = 1;
    std::string doubt;
};

/// The picture as it is under one memory of the noise.
struct View {
    Reduced reduced;
    double row_variance = 0;    ///< of rows over that of a sample
    double variance = 0;        ///< of the noise of a sample, as the free curve leaves it
    double log_likelihood = 0;  ///< restricted: the columns' part integrated out, or the noise came out small
};

View view_under(const Picture& picture, const Memory& memory) {
    const Whitened white = whiten(picture, memory);
    View out{.reduced = reduce(white.rows, picture.of_law), .row_variance = white.row_variance};
    const auto left = static_cast<double>(white.rows.rows() - white.rows.cols() + 1);
    out.variance = out.reduced.rss_free / left;
    out.log_likelihood = -0.5 * (left * std::log(out.variance) + white.log_determinant) -
                         out.reduced.length.array().log().sum();
    return out;
}

Look look_at(const Picture& picture, const View& view) {
    const Reduced& reduced = view.reduced;
    const auto n = static_cast<double>(reduced.after_law.size());
    const auto explained = static_cast<double>(reduced.along.size());
    const double left = n - explained, knots = explained - static_cast<double>(picture.of_law);
    Look out;
    const double variance = view.variance;
    const double least_variance = picture.floor * picture.floor / view.row_variance;
    const bool step_rules = least_variance > variance;
    const double noise = std::max(variance, least_variance);

    double wave_chance = 1;
    if (knots > 0) {
        const double ratio = (reduced.rss_law - reduced.rss_free) / knots / noise;
        const boost::math::fisher_f fisher(knots, left);
        wave_chance = boost::math::cdf(boost::math::complement(fisher, std::max(0.0, ratio)));
    }
    Runs runs;
    Correlation correlation;
    const auto lags = static_cast<std::size_t>(std::min(10.0, n / 5));
    if (!step_rules) {
        runs = runs_of(reduced.after_law);
        correlation = correlation_of(reduced.after_law, lags);
    }
    const double least = std::min({wave_chance, runs.chance, correlation.chance});
    out.chance = std::min(1.0, looks * least);
    if (least == wave_chance) {
        const auto free = static_cast<Eigen::Index>(knots);
        const auto basis = reduced.basis.rightCols(free);
        const Eigen::VectorXd wave = basis * reduced.along.tail(free);
        Eigen::Index at = 0;
        const Eigen::VectorXd times =
            wave.array() / (basis.rowwise().norm().array() * std::sqrt(noise) + 1e-300);
        times.cwiseAbs().maxCoeff(&at);
        out.doubt = fmt::format("the residuals leave a wave: near {:.3g} s it is {:.1f} times its noise",
                                picture.x[static_cast<std::size_t>(at)], std::abs(times(at)));
    } else if (least == runs.chance) {
        out.doubt = fmt::format(
            "residuals stay on one side for longer than chance explains: {} runs where {:.0f} are expected",
            runs.seen, runs.expected);
    } else {
        out.doubt = words_of(correlation, picture.x);
    }
    return out;
}

/// The samples themselves, where rows are means that hum cancels out of.
Look look_at_samples(const fit::Law& law, const fit::Fit& fit, const fit::Curve& curve, double floor) {
    const std::size_t count = std::min(curve.size(), most_samples);
    const auto x = curve.x.first(count);
    const std::vector<double> values = fit::values_of(law, fit.amplitudes(law), fit.shape(law), x);
    std::vector<double> residual(count);
    for (std::size_t i = 0; i < count; ++i)
        residual[i] = (curve.y[i] - values[i]) / (curve.sigma.empty() ? 1 : curve.sigma[i]);
    const fit::LagNoise noise =
        fit.noise && curve.sigma.empty() ? *fit.noise : fit::lag_noise_of(x, residual);
    if (noise.variance() < 4 * floor * floor) return {};  // what is left is mostly the recorder's step
    Picture samples{
        .x = {x.begin(), x.end()},
        .span = std::vector<double>(count, 0.0),
        .samples = std::vector<double>(count, 1.0),
        .columns = Eigen::Map<const Eigen::VectorXd>(residual.data(), static_cast<Eigen::Index>(count))};
    const double share = noise.variance() > 0 ? noise.band * noise.band / noise.variance() : 0;
    const Whitened white = whiten(samples, {share, noise.correlation});
    const Correlation correlation = correlation_of(white.rows.col(0), 20);
    Look out;
    if (std::abs(correlation.largest) < audible) return out;
    out.chance = std::min(1.0, looks * correlation.chance);
    out.doubt = words_of(correlation, samples.x);
    return out;
}

/// Memories that noise may have: none, or up to the distance of knots.
std::vector<Memory> memories(const Picture& picture) {
    std::vector<double> gaps;
    for (std::size_t i = 1; i < picture.x.size(); ++i) gaps.push_back(picture.x[i] - picture.x[i - 1]);
    std::ranges::sort(gaps);
    const double shortest = gaps[gaps.size() / 10], length = picture.x.back() - picture.x.front();
    const auto knots = static_cast<double>(picture.columns.cols() - 1 - picture.of_law);
    std::vector<Memory> out{{}};
    if (!(shortest > 0)) return out;
    for (double correlation = shortest / 2; correlation < length / knots; correlation *= 2)
        for (const double share : {0.3, 0.6, 0.85, 1.0}) out.push_back({share, correlation});
    return out;
}

}  // namespace

std::optional<Adequacy> judge_adequacy(const fit::Law& law, const fit::Fit& fit, const fit::Curve& curve) {
    if (!fit.ok() || curve.size() < 10) return std::nullopt;
    const std::optional<Picture> picture = picture_of(law, fit, curve);
    if (!picture) return std::nullopt;
    Adequacy out;
    const auto residual = picture->columns.col(picture->columns.cols() - 1);
    if (residual.norm() <= picture->floor * std::sqrt(static_cast<double>(residual.size()))) {
        out.adequate = true;
        out.chance = 1;
        return out;
    }
    std::vector<View> views;
    double best = -std::numeric_limits<double>::infinity();
    for (const Memory& memory : memories(*picture)) {
        views.push_back(view_under(*picture, memory));
        best = std::max(best, views.back().log_likelihood);
    }
    for (const View& view : views) {
        if (view.log_likelihood < best - excluded) continue;
        const Look look = look_at(*picture, view);
        if (look.chance < out.chance) continue;
        out.chance = look.chance;
        out.doubt = look.doubt;
    }
    if (curve.size() > picture->x.size()) {
        const Look samples = look_at_samples(law, fit, curve, picture->floor);
        if (samples.chance < out.chance) {
            out.chance = samples.chance;
            out.doubt = samples.doubt;
        }
    }
    out.adequate = out.chance >= false_alarm;
    if (out.adequate) out.doubt.clear();
    return out;
}

}  // namespace ebbtide::decay
