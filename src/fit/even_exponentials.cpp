#include "fit/even_exponentials.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "lanes/decay_sums.hpp"

namespace ebbtide::fit {
namespace {

constexpr std::size_t fewest = 48;
constexpr double largest_square = 1e198;          // beyond, a sample may be larger than fit() allows
constexpr double grid_step = 0.6931471805599453;  // ln 2
constexpr double shortest_sought = 1.5;           // time constant, in intervals
constexpr double dependent = 1e-10;  // share of a column's square beside the others from which it counts
constexpr int most_looks = 40;
constexpr int most_passes = 8;
constexpr std::size_t most_starts = 3;

// What must hold for an answer to be trusted.
constexpr double proven = 1e-10;       // fall of the sum of squares still expected, relative
constexpr double plain_scatter = 1.5;  // variance of means about the law over that within them
constexpr double closest = 0.15;       // of log time constants
constexpr double known_to = 0.35;      // standard error of log time constants, white noise supposed
constexpr double apart_by = 3;         // standard errors between neighbours

template <std::size_t n>
using Row = std::array<double, n>;
template <std::size_t n, std::size_t m>
using Table = std::array<std::array<double, m>, n>;

/// L of L L^T in place; false when a pivot falls below `share` of its diagonal.
template <std::size_t n>
bool factor(Table<n, n>& a, double share) {
    for (std::size_t j = 0; j < n; ++j) {
        double pivot = a[j][j];
        for (std::size_t k = 0; k < j; ++k) pivot -= a[j][k] * a[j][k];
        if (!(pivot > share * a[j][j])) return false;
        a[j][j] = std::sqrt(pivot);
        const double inverse = 1 / a[j][j];
        for (std::size_t i = j + 1; i < n; ++i) {
            double sum = a[i][j];
            for (std::size_t k = 0; k < j; ++k) sum -= a[i][k] * a[j][k];
            a[i][j] = sum * inverse;
        }
    }
    return true;
}

/// L^-1 b.
template <std::size_t n>
Row<n> forward(const Table<n, n>& l, Row<n> b) {
    for (std::size_t i = 0; i < n; ++i) {
        for (std::size_t k = 0; k < i; ++k) b[i] -= l[i][k] * b[k];
        b[i] /= l[i][i];
    }
    return b;
}

/// L^-T b.
template <std::size_t n>
Row<n> backward(const Table<n, n>& l, Row<n> b) {
    for (std::size_t i = n; i-- > 0;) {
        for (std::size_t k = i + 1; k < n; ++k) b[i] -= l[k][i] * b[k];
        b[i] /= l[i][i];
    }
    return b;
}

template <std::size_t n>
double dot(const Row<n>& a, const Row<n>& b) {
    double sum = 0;
    for (std::size_t i = 0; i < n; ++i) sum += a[i] * b[i];
    return sum;
}

/// `parts` exponentials, and a column of ones behind them when `ones` is 1. Time constants are logarithms in
/// units of the interval between samples.
template <std::size_t parts, std::size_t ones>
class Even {
    static constexpr std::size_t columns = parts + ones;

  public:
    Even(std::span<const double> y, double constant) : y_(y), constant_(constant) {
        lanes::take_means(y, constant, means_);
    }

    /// Nothing unless trusted.
    std::optional<EvenExponentials> run(double first_x, double interval) {
        if (!(means_.squares < largest_square) || !(means_.squares > 1 / largest_square)) return std::nullopt;
        Starts starts;
        find_starts(starts);
        if (starts.count == 0) return std::nullopt;
        Look best;
        std::optional<Bottom> bottom;
        for (std::size_t s = 0; s < starts.count; ++s) {
            const Look found = descend(starts.log_t[s]);
            if (!found.usable || !found.settled || found.rss > best.rss * (1 - 1e-6)) continue;
            best = found;
            bottom = descend_on_samples(found);
            if (bottom && fits_the_means(found.rss, bottom->rss)) break;
        }
        if (!bottom) return std::nullopt;
        return vouched(*bottom, first_x, interval);
    }

  private:
    struct Starts {
        std::size_t count = 0;
        std::array<Row<parts>, most_starts> log_t;
        std::array<double, most_starts> height;
    };

    /// What the means say at one set of time constants: amplitudes solved for, normal equations of the rest.
    struct Look {
        bool usable = false;
        bool settled = false;
        Row<parts> log_t{}, rate{};
        Row<columns> amplitude{};
        double rss = std::numeric_limits<double>::infinity();
        Table<columns, columns> inner{};  // Cholesky factor of the amplitudes' matrix
        Table<parts, columns> cross{};  // L^-1 of each slope's products with the columns, amplitude included
        Table<parts, parts> normal{};   // of the log time constants, amplitudes eliminated
        Row<parts> push{};              // downhill
    };

    static Row<parts> rates_of(const Row<parts>& log_t) {
        Row<parts> out;
        for (std::size_t k = 0; k < parts; ++k) out[k] = -std::exp(-log_t[k]);
        return out;
    }

    Look look(const Row<parts>& log_t) const {
        Look out;
        out.log_t = log_t;
        out.rate = rates_of(log_t);
        const lanes::TierSums sums = lanes::tier_sums(means_, out.rate);
        Row<columns> right;
        for (std::size_t k = 0; k < parts; ++k) {
            for (std::size_t l = 0; l < parts; ++l) out.inner[k][l] = sums.phi_phi[k][l];
            right[k] = sums.phi_y[k];
            if constexpr (ones == 1) out.inner[parts][k] = out.inner[k][parts] = sums.phi_one[k];
        }
        if constexpr (ones == 1) {
            out.inner[parts][parts] = means_.samples;
            right[parts] = means_.sum;
        }
        if (!factor(out.inner, dependent)) return out;
        const Row<columns> half = forward(out.inner, right);
        out.amplitude = backward(out.inner, half);
        out.rss = means_.squares - dot(half, half);
        for (std::size_t k = 0; k < parts; ++k) {
            Row<columns> b;
            for (std::size_t l = 0; l < parts; ++l) b[l] = sums.phi_d[l][k];
            if constexpr (ones == 1) b[parts] = sums.d_one[k];
            out.push[k] = out.amplitude[k] * (sums.d_y[k] - dot(b, out.amplitude));
            for (double& number : b) number *= out.amplitude[k];
            out.cross[k] = forward(out.inner, b);
        }
        for (std::size_t k = 0; k < parts; ++k)
            for (std::size_t l = 0; l < parts; ++l)
                out.normal[k][l] =
                    out.amplitude[k] * out.amplitude[l] * sums.d_d[k][l] - dot(out.cross[k], out.cross[l]);
        out.usable = std::isfinite(out.rss);
        return out;
    }

    /// The sum of squares on a grid with a factor of two between time constants; its valleys, lowest first.
    void find_starts(Starts& out) const {
        constexpr std::size_t most = 32;
        const double low = std::log(shortest_sought);
        // From there up to twice the record at least.
        const auto count =
            std::min(most, static_cast<std::size_t>(std::ilogb(static_cast<double>(y_.size()))) + 2);
        std::array<double, most> with_one, with_y;
        std::array<double, most * most> products;
        lanes::halving_products(means_, -1 / shortest_sought, count, products, with_one, with_y);
        const auto product = [&](std::size_t g, std::size_t h) -> double& { return products[g * count + h]; };
        if constexpr (ones == 1)
            for (std::size_t g = 0; g < count; ++g) {
                const double share = with_one[g] / means_.samples;
                for (std::size_t h = g; h < count; ++h) product(g, h) -= share * with_one[h];
                with_y[g] -= share * means_.sum;
            }
        const auto at = [&](std::size_t g) { return low + grid_step * static_cast<double>(g); };
        const auto add = [&](double height, const Row<parts>& log_t) {
            std::size_t place = std::min(out.count, most_starts - 1);
            if (out.count == most_starts && !(height > out.height[place])) return;
            for (; place > 0 && height > out.height[place - 1]; --place) {
                out.height[place] = out.height[place - 1];
                out.log_t[place] = out.log_t[place - 1];
            }
            out.height[place] = height;
            out.log_t[place] = log_t;
            out.count = std::min(out.count + 1, most_starts);
        };
        // Heights are what a set takes off the sum of squares.
        if constexpr (parts == 1) {
            std::array<double, most> fall;
            for (std::size_t g = 0; g < count; ++g) fall[g] = with_y[g] * with_y[g] / product(g, g);
            for (std::size_t g = 0; g < count; ++g)
                if ((g == 0 || fall[g] > fall[g - 1]) && (g + 1 == count || fall[g] >= fall[g + 1]))
                    add(fall[g], {at(g)});
        } else if constexpr (parts == 2) {
            std::array<double, most * most> fall;
            for (std::size_t g = 0; g < count; ++g)
                for (std::size_t h = g + 1; h < count; ++h) {
                    const double a = product(g, g), b = product(h, h), c = product(g, h);
                    const double p = with_y[g], q = with_y[h];
                    fall[g * count + h] = (p * p * b - 2 * p * q * c + q * q * a) / (a * b - c * c);
                }
            for (std::size_t g = 0; g < count; ++g)
                for (std::size_t h = g + 1; h < count; ++h) {
                    const double here = fall[g * count + h];
                    bool peak = true;
                    for (std::size_t i = g > 0 ? g - 1 : 0; i <= g + 1 && peak; ++i)
                        for (std::size_t j = std::max(h - 1, i + 1); j <= h + 1 && j < count; ++j)
                            if (fall[i * count + j] > here) peak = false;
                    if (peak) add(here, {at(g), at(h)});
                }
        } else {
            double best = -1;
            Row<parts> where{};
            for (std::size_t g = 0; g < count; ++g)
                for (std::size_t h = g + 1; h < count; ++h)
                    for (std::size_t i = h + 1; i < count; ++i) {
                        Table<3, 3> a{{{product(g, g), 0, 0},
                                       {product(g, h), product(h, h), 0},
                                       {product(g, i), product(h, i), product(i, i)}}};
                        if (!factor(a, dependent)) continue;
                        const Row<3> half = forward(a, Row<3>{with_y[g], with_y[h], with_y[i]});
                        const double fall = dot(half, half);
                        if (fall > best) {
                            best = fall;
                            where = {at(g), at(h), at(i)};
                        }
                    }
            if (best > 0) add(best, where);
        }
    }

    /// Levenberg and Marquardt on the means.
    Look descend(const Row<parts>& start) const {
        Look here = look(start);
        if (!here.usable) return here;
        const double noise = 1e-15 * means_.squares;
        const double low = std::log(0.05), high = std::log(100.0 * static_cast<double>(y_.size()));
        double damping = 1e-4, widen = 4;
        Row<parts> scale{};
        for (int turn = 0; turn < most_looks; ++turn) {
            for (std::size_t k = 0; k < parts; ++k) scale[k] = std::max(scale[k], here.normal[k][k]);
            Table<parts, parts> plain = here.normal;
            if (factor(plain, 1e-12)) {
                const Row<parts> half = forward(plain, here.push);
                if (dot(half, half) <= 1e-7 * here.rss + noise) {
                    here.settled = true;
                    return here;
                }
            }
            Table<parts, parts> damped = here.normal;
            for (std::size_t k = 0; k < parts; ++k) damped[k][k] += damping * scale[k];
            if (!factor(damped, 1e-14)) {
                damping *= widen;
                widen *= 2;
                continue;
            }
            const Row<parts> move = backward(damped, forward(damped, here.push));
            Row<parts> there = here.log_t;
            double largest = 1.5;
            for (const double m : move) largest = std::max(largest, std::abs(m));
            for (std::size_t k = 0; k < parts; ++k)
                there[k] = std::clamp(there[k] + move[k] * 1.5 / largest, low, high);
            const Look next = look(there);
            if (next.usable && next.rss < here.rss) {
                // On the linear picture the fall is 2 push.move - move' normal move.
                double bent = 0;
                for (std::size_t k = 0; k < parts; ++k) bent += move[k] * dot(here.normal[k], move);
                const double ratio = (here.rss - next.rss) / (2 * dot(here.push, move) - bent);
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

    struct Bottom {
        Row<parts> log_t{};
        Row<columns> amplitude{};
        Table<parts, parts> normal{};  // Cholesky factor
        double rss = 0;
    };

    /// The last steps, with the gradient of all samples and the normal matrix of the means. The first
    /// gradient comes from moments, which have digits enough for it.
    std::optional<Bottom> descend_on_samples(Look at) const {
        Bottom out;
        out.normal = at.normal;
        if (!factor(out.normal, 1e-10)) return std::nullopt;
        lanes::DecaySum sum;
        sum.parts = parts;
        double before = std::numeric_limits<double>::infinity();
        // Squares of what rounding leaves of the samples.
        const double rounding = 1e-30 * means_.squares * static_cast<double>(y_.size()) / means_.samples;
        for (int pass = 0; pass < most_passes; ++pass) {
            for (std::size_t k = 0; k < parts; ++k) {
                sum.rate[k] = -std::exp(-at.log_t[k]);
                sum.amplitude[k] = at.amplitude[k];
            }
            sum.constant = constant_;
            if constexpr (ones == 1) sum.constant += at.amplitude[parts];
            const lanes::ResidualSums left =
                pass == 0 ? lanes::residual_moments(y_, sum) : lanes::residual_sums(y_, sum);
            Row<columns> along;
            Row<parts> push;
            for (std::size_t k = 0; k < parts; ++k) {
                along[k] = left.with[k];
                push[k] = -at.amplitude[k] * sum.rate[k] * left.with_index[k];
            }
            if constexpr (ones == 1) along[parts] = left.plain;
            const Row<columns> half = forward(at.inner, along);
            for (std::size_t k = 0; k < parts; ++k) push[k] -= dot(at.cross[k], half);
            const Row<parts> half_push = forward(out.normal, push);
            const Row<parts> move = backward(out.normal, half_push);
            Row<columns> rest = half;
            for (std::size_t k = 0; k < parts; ++k)
                for (std::size_t j = 0; j < columns; ++j) rest[j] -= at.cross[k][j] * move[k];
            const Row<columns> change = backward(at.inner, rest);
            for (std::size_t k = 0; k < parts; ++k) at.log_t[k] += move[k];
            for (std::size_t j = 0; j < columns; ++j) at.amplitude[j] += change[j];
            if (pass == 0) continue;
            if (!(left.squares < largest_square)) return std::nullopt;
            const double expected = dot(half, half) + dot(half_push, half_push);
            if (expected <= proven * left.squares || left.squares <= rounding) {
                out.log_t = at.log_t;
                out.amplitude = at.amplitude;
                out.rss = left.squares;
                return out;
            }
            // Where the valley is bent the normal matrix must follow.
            if (expected > 0.01 * before || pass == 1) {
                const Look there = look(at.log_t);
                out.normal = there.normal;
                if (!there.usable || !factor(out.normal, 1e-10)) return std::nullopt;
                at.inner = there.inner;
                at.cross = there.cross;
            }
            before = expected;
        }
        return std::nullopt;
    }

    /// The means scatter about the law no more than the samples within them do: nothing is left that another
    /// valley could fit better.
    bool fits_the_means(double means_rss, double rss) const {
        const double freedom = static_cast<double>(means_.count) - static_cast<double>(columns + parts);
        const double within = static_cast<double>(y_.size() - means_.count);
        return means_rss * within <= plain_scatter * (rss - means_rss) * freedom;
    }

    /// The answer, if the noise lets it be told from others; white noise supposed.
    std::optional<EvenExponentials> vouched(const Bottom& at, double first_x, double interval) const {
        const auto count = static_cast<double>(y_.size());
        std::array<std::size_t, parts> order;
        for (std::size_t k = 0; k < parts; ++k) order[k] = k;
        std::ranges::sort(order, {}, [&](std::size_t k) { return at.log_t[k]; });
        const double variance = at.rss / (count - static_cast<double>(columns + parts));
        Table<parts, parts> errors;  // covariance of the log time constants
        for (std::size_t k = 0; k < parts; ++k) {
            Row<parts> unit{};
            unit[k] = 1;
            errors[k] = backward(at.normal, forward(at.normal, unit));
        }
        EvenExponentials out;
        for (std::size_t place = 0; place < parts; ++place) {
            const std::size_t k = order[place];
            if (!(variance * errors[k][k] < known_to * known_to)) return std::nullopt;
            if (at.log_t[k] < std::log(0.5) || at.log_t[k] > std::log(3 * count)) return std::nullopt;
            if (place > 0) {
                const std::size_t l = order[place - 1];
                const double apart = at.log_t[k] - at.log_t[l];
                const double doubt = variance * (errors[k][k] + errors[l][l] - 2 * errors[k][l]);
                if (apart < closest || apart * apart < apart_by * apart_by * doubt) return std::nullopt;
            }
            out.time_constant[place] = std::exp(at.log_t[k]) * interval;
            out.amplitude[place] = at.amplitude[k] * std::exp(first_x / out.time_constant[place]);
            if (!std::isfinite(out.amplitude[place])) return std::nullopt;
        }
        if constexpr (ones == 1) out.offset = at.amplitude[parts];
        out.rss = at.rss;
        return out;
    }

    std::span<const double> y_;
    double constant_;
    lanes::MeanTiers means_;
};

template <std::size_t parts>
std::optional<EvenExponentials> run(const Curve& curve, bool with_offset, double constant, double interval) {
    if (with_offset) return Even<parts, 1>(curve.y, constant).run(curve.x.front(), interval);
    return Even<parts, 0>(curve.y, constant).run(curve.x.front(), interval);
}

}  // namespace

std::optional<EvenExponentials> fit_even_exponentials(const Curve& curve, std::size_t parts, bool with_offset,
                                                      double constant) {
    if (!curve.sigma.empty() || curve.x.size() != curve.y.size() || curve.size() < fewest ||
        !lanes::evenly_spaced(curve.x))
        return std::nullopt;
    const double interval = (curve.x.back() - curve.x.front()) / static_cast<double>(curve.size() - 1);
    switch (parts) {
        case 1:
            return run<1>(curve, with_offset, constant, interval);
        case 2:
            return run<2>(curve, with_offset, constant, interval);
        case 3:
            return run<3>(curve, with_offset, constant, interval);
        default:
            return std::nullopt;
    }
}

}  // namespace ebbtide::fit
