#include "decay/adequacy.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/fisher_f.hpp>
#include <boost/math/special_functions/binomial.hpp>
#include <cmath>
#include <limits>
#include <vector>

#include "decay/adequacy_picture.hpp"
#include "fit/lag_noise.hpp"

namespace ebbtide::decay {
namespace {

// Chances are those of a known memory; that it is estimated makes them up to twice as large.
constexpr double false_alarm = 0.0005;
constexpr double looks = 4;  // for a wave, runs, memory of rows, memory of samples: each gets a quarter of it
constexpr double excluded = 3;  // log likelihood below the best from which a noise is ruled out
// Of some hundred points the far tail of Ljung and Box's sum is heavier than that of chi squared, by as much
// at one in a thousand (seen in seeded traces).
constexpr double heavy_tail = 4;
constexpr double audible = 0.1;                 // smallest correlation of samples that counts
constexpr std::size_t most_listened_to = 4096;  // whose correlation is looked at

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
    const std::size_t count = std::min(curve.size(), most_listened_to);
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
