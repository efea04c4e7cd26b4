#pragma once
// The quick way to the bottom on even samples that all weigh alike, for a law of few columns.
//
// Some hundred means (lanes::MeanTiers) carry nearly all that the samples say, so the search runs on them.
// The last steps read all samples, which give the gradient to the last digit; the normal matrix of the means,
// which is nearly that of the samples, turns it into a step. The sum of squares at the end of the last step
// is that before it less the expected fall, wherever the two can differ by no more than 1e-9 of it.

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <optional>
#include <span>

#include "lanes/tier_sums.hpp"

namespace ebbtide::fit {

template <std::size_t n>
using Row = std::array<double, n>;
template <std::size_t n, std::size_t m>
using Table = std::array<std::array<double, m>, n>;

/// L of L L^T in place, with the reciprocals of its diagonal; false when a pivot falls below `share` of its
/// diagonal. Unrolled: the compiler would not, and these are a third of a search on the means.
template <std::size_t n>
inline bool factor(Table<n, n>& a, double share) {
#pragma GCC unroll 4
    for (std::size_t j = 0; j < n; ++j) {
        double pivot = a[j][j];
#pragma GCC unroll 4
        for (std::size_t k = 0; k < j; ++k) pivot -= a[j][k] * a[j][k];
        if (!(pivot > share * a[j][j])) return false;
        a[j][j] = 1 / std::sqrt(pivot);
#pragma GCC unroll 4
        for (std::size_t i = j + 1; i < n; ++i) {
            double sum = a[i][j];
#pragma GCC unroll 4
            for (std::size_t k = 0; k < j; ++k) sum -= a[i][k] * a[j][k];
            a[i][j] = sum * a[j][j];
        }
    }
    return true;
}

/// L^-1 b.
template <std::size_t n>
inline Row<n> forward(const Table<n, n>& l, Row<n> b) {
#pragma GCC unroll 4
    for (std::size_t i = 0; i < n; ++i) {
#pragma GCC unroll 4
        for (std::size_t k = 0; k < i; ++k) b[i] -= l[i][k] * b[k];
        b[i] *= l[i][i];
    }
    return b;
}

/// L^-T b.
template <std::size_t n>
inline Row<n> backward(const Table<n, n>& l, Row<n> b) {
#pragma GCC unroll 4
    for (std::size_t place = 0; place < n; ++place) {
        const std::size_t i = n - 1 - place;
#pragma GCC unroll 4
        for (std::size_t k = i + 1; k < n; ++k) b[i] -= l[k][i] * b[k];
        b[i] *= l[i][i];
    }
    return b;
}

template <std::size_t n>
double dot(const Row<n>& a, const Row<n>& b) {
    double sum = 0;
    for (std::size_t i = 0; i < n; ++i) sum += a[i] * b[i];
    return sum;
}

/// Sums over all samples of the residual r = y - law.
template <std::size_t parts, std::size_t shapes>
struct SampleGradient {
    double squares = 0, plain = 0;
    Row<parts> with{};       ///< sum of r phi_j
    Row<shapes> by_shape{};  ///< sum of r d phi / d log theta_k, amplitude left out
};

/// `Model` says what the law is, its shape parameters being logarithms:
///   parts, ones, shapes     columns that bend, a column of ones behind them (0 or 1), shape parameters
///   has_rough_gradient      gradient(..., rough) is quicker than without, and loses what rounding leaves of
///   y^2 column_of(k)            the column that shape parameter k bends; it bends no other low(), high()
///   where the search may go, by shape parameter sums(means, shape)      lanes::TierSums gradient(y, shape,
///   amplitude, constant, rough)   SampleGradient
template <class Model>
class EvenDescent {
  public:
    static constexpr std::size_t shapes = Model::shapes, columns = Model::parts + Model::ones;
    using Shape = Row<shapes>;

    struct Bottom {
        Shape shape{};
        Row<columns> amplitude{};
        Table<shapes, shapes>
            normal{};        ///< Cholesky factor, of the shape parameters with amplitudes following
        double rss = 0;      ///< of all samples
        bool plain = false;  ///< the means scatter about the law no more than the samples within them do:
                             ///< nothing is left that another valley could fit better
    };

    EvenDescent(const Model& model, std::span<const double> y, double constant)
        : model_(model), y_(y), constant_(constant) {
        lanes::take_means(y, constant, means_);
    }

    [[nodiscard]] const lanes::MeanTiers& means() const { return means_; }
    /// Squares of the samples and of their residuals stay far from the ends of what doubles hold.
    [[nodiscard]] bool ordinary() const {
        return means_.squares < largest_square && means_.squares > 1 / largest_square;
    }

    /// The lowest bottom below these starts; unless `every` one is asked for, none is tried after a bottom
    /// that is plain.
    [[nodiscard]] std::optional<Bottom> lowest(std::span<const Shape> starts, bool every = false) const {
        double best = std::numeric_limits<double>::infinity();
        std::optional<Bottom> bottom;
        for (const Shape& start : starts) {
            const Look found = descend(start);
            if (!found.settled || found.rss > best * (1 - 1e-6)) continue;
            best = found.rss;
            bottom = descend_on_samples(found);
            if (bottom && bottom->plain && !every) break;
        }
        return bottom;
    }

    /// Covariance of the shape parameters at a bottom, white noise supposed.
    [[nodiscard]] Table<shapes, shapes> covariance(const Bottom& at) const {
        const double variance = at.rss / (static_cast<double>(y_.size()) - freedom_taken);
        Table<shapes, shapes> out;
        for (std::size_t k = 0; k < shapes; ++k) {
            Shape unit{};
            unit[k] = variance;
            out[k] = backward(at.normal, forward(at.normal, unit));
        }
        return out;
    }

  private:
    static constexpr double largest_square = 1e198;  // beyond, a sample may be larger than fit() allows
    static constexpr double dependent =
        1e-10;                              // share of a column's square beside the others that is too little
    static constexpr double proven = 1e-9;  // of the sum of squares: what may be left to gain
    static constexpr double near_enough = 1e-2;  // fall of the means' sum of squares, relative, expected of a
                                                 // last step there: a standard error or so
    static constexpr double loose = 1e-3;        // relative difference between the normal matrices
    static constexpr double plain_scatter = 1.5;  // variance of means about the law over that within them
    static constexpr double too_far =
        1e-4;  // miss of the expected fall, relative, on the shape's part of a step
    static constexpr double bent = 1e-5;  // fall expected, relative, from which the matrix is renewed
    static constexpr double freedom_taken = static_cast<double>(columns + shapes);
    static constexpr int most_looks = 40;
    static constexpr int most_passes = 16;

    /// What the means say at one shape: amplitudes solved for, normal equations of the rest.
    struct Look {
        bool usable = false;
        bool settled = false;
        Shape shape{};
        Row<columns> amplitude{};
        double rss = std::numeric_limits<double>::infinity();
        Table<columns, columns> inner{};  // Cholesky factor of the amplitudes' matrix
        Table<shapes, columns> cross{};  // L^-1 of each slope's products with the columns, amplitude included
        Table<shapes, shapes> normal{};  // of the shape, amplitudes eliminated
        Shape push{};                    // downhill
        Shape slopes{};                  // square of each slope, nothing eliminated

        /// By how much, relative, the valley bends on a step: the more the less of a slope the columns and
        /// the slopes before it leave.
        double bend(const Table<shapes, shapes>& normal_factor, const Shape& move,
                    const Row<columns>& change) const {
            double largest = loose, left = 1;
            for (std::size_t k = 0; k < shapes; ++k) {
                largest = std::max(largest, std::abs(move[k]));
                left = std::min(left, 1 / (normal_factor[k][k] * normal_factor[k][k] * slopes[k]));
            }
            for (std::size_t k = 0; k < Model::parts; ++k)
                largest = std::max(largest, std::abs(change[k] / amplitude[k]));
            return largest / left;
        }

        /// To where the shape moves and amplitudes follow, on the linear picture; `half` is L^-1 of what
        /// is left to the columns. The change of the amplitudes.
        Row<columns> step(const Shape& move, Row<columns> half) {
            for (std::size_t k = 0; k < shapes; ++k)
                for (std::size_t j = 0; j < columns; ++j) half[j] -= cross[k][j] * move[k];
            const Row<columns> change = backward(inner, half);
            for (std::size_t k = 0; k < shapes; ++k) shape[k] += move[k];
            for (std::size_t j = 0; j < columns; ++j) amplitude[j] += change[j];
            return change;
        }
    };

    Look look(const Shape& shape) const {
        Look out;
        out.shape = shape;
        const lanes::TierSums sums = model_.sums(means_, shape);
        Row<columns> right;
        for (std::size_t k = 0; k < Model::parts; ++k) {
            for (std::size_t l = 0; l < Model::parts; ++l) out.inner[k][l] = sums.phi_phi[k][l];
            right[k] = sums.phi_y[k];
            if constexpr (Model::ones == 1)
                out.inner[Model::parts][k] = out.inner[k][Model::parts] = sums.phi_one[k];
        }
        if constexpr (Model::ones == 1) {
            out.inner[Model::parts][Model::parts] = means_.samples;
            right[Model::parts] = means_.sum;
        }
        if (!factor(out.inner, dependent)) return out;
        const Row<columns> half = forward(out.inner, right);
        out.amplitude = backward(out.inner, half);
        out.rss = std::max(0.0, means_.squares - dot(half, half));
        for (std::size_t k = 0; k < shapes; ++k) {
            const double amplitude = out.amplitude[Model::column_of(k)];
            Row<columns> b;
            for (std::size_t j = 0; j < Model::parts; ++j) b[j] = sums.phi_d[j][k];
            if constexpr (Model::ones == 1) b[Model::parts] = sums.d_one[k];
            out.push[k] = amplitude * (sums.d_y[k] - dot(b, out.amplitude));
            out.slopes[k] = amplitude * amplitude * sums.d_d[k][k];
            for (double& number : b) number *= amplitude;
            out.cross[k] = forward(out.inner, b);
        }
        for (std::size_t k = 0; k < shapes; ++k)
            for (std::size_t l = 0; l < shapes; ++l)
                out.normal[k][l] =
                    out.amplitude[Model::column_of(k)] * out.amplitude[Model::column_of(l)] * sums.d_d[k][l] -
                    dot(out.cross[k], out.cross[l]);
        out.usable = std::isfinite(out.rss);
        return out;
    }

    /// Levenberg and Marquardt on the means.
    Look descend(const Shape& start) const {
        Look here = look(start);
        if (!here.usable) return here;
        const double noise = 1e-15 * means_.squares;
        const Shape low = model_.low(), high = model_.high();
        double damping = 1e-4, widen = 4;
        Shape scale{};
        for (int turn = 0; turn < most_looks; ++turn) {
            for (std::size_t k = 0; k < shapes; ++k) scale[k] = std::max(scale[k], here.normal[k][k]);
            Table<shapes, shapes> plain = here.normal;
            if (factor(plain, 1e-12)) {
                const Shape half = forward(plain, here.push);
                const double expected = dot(half, half);
                if (expected <= near_enough * here.rss + noise) {
                    Look there = here;
                    const Shape move = backward(plain, half);
                    const Row<columns> change = there.step(move, {});
                    if (expected * here.bend(plain, move, change) <= near_enough * here.rss + noise) {
                        there.rss = std::max(0.0, here.rss - expected);
                        there.settled = true;
                        return there;
                    }
                }
            }
            Table<shapes, shapes> damped = here.normal;
            for (std::size_t k = 0; k < shapes; ++k) damped[k][k] += damping * scale[k];
            if (!factor(damped, 1e-14)) {
                damping *= widen;
                widen *= 2;
                continue;
            }
            const Shape move = backward(damped, forward(damped, here.push));
            Shape there = here.shape;
            double largest = 1.5;
            for (const double m : move) largest = std::max(largest, std::abs(m));
            for (std::size_t k = 0; k < shapes; ++k)
                there[k] = std::clamp(there[k] + move[k] * 1.5 / largest, low[k], high[k]);
            const Look next = look(there);
            if (next.usable && next.rss < here.rss) {
                // On the linear picture the fall is 2 push.move - move' normal move.
                double curved = 0;
                for (std::size_t k = 0; k < shapes; ++k) curved += move[k] * dot(here.normal[k], move);
                const double ratio = (here.rss - next.rss) / (2 * dot(here.push, move) - curved);
                const double over = 2 * std::min(ratio, 2.0) - 1;
                damping *= std::clamp(1 - over * over * over, 0.05, 4.0);
                damping = std::max(damping, 1e-12);
                widen = 4;
                here = next;
                continue;
            }
            if (next.usable && next.rss <= here.rss + noise) {
                here.settled = true;
                return here;
            }
            damping *= widen;
            widen *= 2;
            if (damping > 1e12) break;
        }
        return here;
    }

    /// The last steps, with the gradient of all samples and the normal matrix of the means. A rough gradient,
    /// where the model has one, serves as far as its digits reach.
    std::optional<Bottom> descend_on_samples(Look at) const {
        Bottom out;
        out.normal = at.normal;
        if (!factor(out.normal, 1e-10)) return std::nullopt;
        double before = std::numeric_limits<double>::infinity();
        bool rough = Model::has_rough_gradient;
        const double samples = static_cast<double>(y_.size());
        // Squares of the samples, and what rounding leaves of them: in a sum of squares and in residuals.
        const double squares = means_.squares * samples / means_.samples;
        const double lost = 1e-15 * std::sqrt(samples) * squares, rounding = 1e-28 * squares;
        for (int pass = 0; pass < most_passes; ++pass) {
            auto left = model_.gradient(y_, at.shape, at.amplitude, constant_, rough);
            if (rough && !(lost <= proven * left.squares)) {
                rough = false;
                left = model_.gradient(y_, at.shape, at.amplitude, constant_, rough);
            }
            if (!(left.squares < largest_square)) return std::nullopt;
            Row<columns> along;
            Shape push;
            for (std::size_t k = 0; k < Model::parts; ++k) along[k] = left.with[k];
            for (std::size_t k = 0; k < shapes; ++k)
                push[k] = at.amplitude[Model::column_of(k)] * left.by_shape[k];
            if constexpr (Model::ones == 1) along[Model::parts] = left.plain;
            const Row<columns> half = forward(at.inner, along);
            for (std::size_t k = 0; k < shapes; ++k) push[k] -= dot(at.cross[k], half);
            const Shape half_push = forward(out.normal, push);
            const Shape move = backward(out.normal, half_push);
            const Row<columns> change = at.step(move, half);
            const double expected = dot(half, half) + dot(half_push, half_push);
            // By so much, relative, the fall may differ from the expected one: by the bend of the valley, and
            // by how wrong the normal matrix is, which shows in the part of a step that the next has to
            // repeat.
            const double bend = at.bend(out.normal, move, change);
            const double miss = std::max(bend, std::sqrt(expected / before));
            if (expected * miss <= proven * left.squares || left.squares <= rounding) {
                out.shape = at.shape;
                out.amplitude = at.amplitude;
                out.rss = std::max(0.0, left.squares - expected);
                out.plain = left.squares <= rounding || fits_the_means(at.rss, out.rss);
                return out;
            }
            // Where columns are nearly alike, amplitudes leave the linear picture long before the shape does:
            // those that the means give at the new shape are nearer.
            const bool far = dot(half_push, half_push) * bend > too_far * left.squares &&
                             std::ranges::any_of(move, [](double m) { return std::abs(m) > loose; });
            if (far || expected > bent * left.squares || expected > 0.01 * before) {
                const Look there = look(at.shape);
                out.normal = there.normal;
                if (!there.usable || !factor(out.normal, 1e-10)) return std::nullopt;
                at.inner = there.inner;
                at.cross = there.cross;
                at.slopes = there.slopes;
                if (far) at.amplitude = there.amplitude;
            }
            before = expected;
        }
        return std::nullopt;
    }

    bool fits_the_means(double means_rss, double rss) const {
        const double freedom = static_cast<double>(means_.count) - freedom_taken;
        const double within = static_cast<double>(y_.size() - means_.count);
        return means_rss * within <= plain_scatter * (rss - means_rss) * freedom;
    }

    Model model_;
    std::span<const double> y_;
    double constant_;
    lanes::MeanTiers means_;
};

}  // namespace ebbtide::fit
