#include "fit/even_exponentials.hpp"

#include <limits>

#include "fit/even_descent.hpp"
#include "lanes/decay_sums.hpp"
#include "lanes/even_spacing.hpp"

namespace ebbtide::fit {
namespace {

constexpr std::size_t fewest = 100;
constexpr double grid_step = 0.6931471805599453;  // ln 2
constexpr double shortest_sought = 1.5;           // time constant, in intervals
constexpr std::size_t most_starts = 3;

// What must hold for an answer to be trusted.
constexpr double closest = 0.15;  // of log time constants
constexpr double shortest = 0.5;  // intervals
constexpr double longest = 3;     // records

/// How well the noise, supposed to be white, lets parts be told from each other.
struct Told {
    double known_to = 0;  ///< largest standard error of log time constants
    double apart_by = std::numeric_limits<double>::infinity();  ///< least distance in standard errors
    bool inside = true;                                         ///< the limits above

    [[nodiscard]] bool well() const { return inside && known_to < 0.35 && apart_by >= 3; }
    /// Enough if no other valley that can be seen lies lower.
    [[nodiscard]] bool barely() const { return inside && known_to < 0.5 && apart_by >= 1.5; }
};

/// Time constants count in intervals between samples, amplitudes at the first sample.
template <std::size_t parts_, std::size_t ones_>
struct Exponentials {
    static constexpr std::size_t parts = parts_, ones = ones_, shapes = parts_;
    static constexpr bool has_rough_gradient = true;
    static constexpr std::size_t column_of(std::size_t k) { return k; }
    double samples;

    [[nodiscard]] Row<parts> low() const {
        Row<parts> out;
        out.fill(std::log(0.05));
        return out;
    }
    [[nodiscard]] Row<parts> high() const {
        Row<parts> out;
        out.fill(std::log(100 * samples));
        return out;
    }
    static Row<parts> rates_of(const Row<parts>& log_t) {
        Row<parts> out;
        for (std::size_t k = 0; k < parts; ++k) out[k] = -std::exp(-log_t[k]);
        return out;
    }
    [[nodiscard]] lanes::TierSums sums(const lanes::MeanTiers& means, const Row<parts>& log_t) const {
        return lanes::tier_sums(means, rates_of(log_t));
    }
    [[nodiscard]] SampleGradient<parts, shapes> gradient(std::span<const double> y, const Row<parts>& log_t,
                                                         const Row<parts + ones>& amplitude, double constant,
                                                         bool rough) const {
        lanes::DecaySum sum;
        sum.parts = parts;
        const Row<parts> rates = rates_of(log_t);
        std::copy_n(rates.begin(), parts, sum.rate.begin());
        std::copy_n(amplitude.begin(), parts, sum.amplitude.begin());
        sum.constant = constant;
        if constexpr (ones == 1) sum.constant += amplitude[parts];
        const lanes::ResidualSums left =
            rough ? lanes::residual_moments(y, sum) : lanes::residual_sums(y, sum);
        SampleGradient<parts, shapes> out;
        out.squares = left.squares;
        out.plain = left.plain;
        for (std::size_t k = 0; k < parts; ++k) {
            out.with[k] = left.with[k];
            out.by_shape[k] = -rates[k] * left.with_index[k];
        }
        return out;
    }
};

template <std::size_t parts>
struct Starts {
    std::size_t count = 0;
    std::array<Row<parts>, most_starts> log_t;
    std::array<double, most_starts> height;
};

/// The sum of squares on a grid with a factor of two between time constants: its lowest point, or with `all`
/// its valleys, lowest first.
template <std::size_t parts, std::size_t ones>
Starts<parts> starts_of(const lanes::MeanTiers& means, std::size_t samples, bool all) {
    Starts<parts> out;
    constexpr std::size_t most = 32;
    const double low = std::log(shortest_sought);
    // From there up to twice the record at least.
    const auto count = std::min(most, static_cast<std::size_t>(std::ilogb(static_cast<double>(samples))) + 2);
    std::array<double, most> with_one, with_y;
    std::array<double, most * most> products;
    lanes::halving_products(means, -1 / shortest_sought, count, products, with_one, with_y);
    const auto product = [&](std::size_t g, std::size_t h) -> double& { return products[g * count + h]; };
    if constexpr (ones == 1)
        for (std::size_t g = 0; g < count; ++g) {
            const double share = with_one[g] / means.samples;
            for (std::size_t h = g; h < count; ++h) product(g, h) -= share * with_one[h];
            with_y[g] -= share * means.sum;
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
        double best = -1;
        std::array<std::size_t, 2> where{};
        for (std::size_t g = 0; g < count; ++g) {
            const double a = product(g, g), p = with_y[g];
            for (std::size_t h = g + 1; h < count; ++h) {
                const double b = product(h, h), c = product(g, h), q = with_y[h];
                const double here = (p * p * b - 2 * p * q * c + q * q * a) / (a * b - c * c);
                fall[g * count + h] = here;
                if (here > best) {
                    best = here;
                    where = {g, h};
                }
            }
        }
        const auto is_peak = [&](std::size_t g, std::size_t h) {
            for (std::size_t i = g > 0 ? g - 1 : 0; i <= g + 1; ++i)
                for (std::size_t j = std::max(h - 1, i + 1); j <= h + 1 && j < count; ++j)
                    if (fall[i * count + j] > fall[g * count + h]) return false;
            return true;
        };
        if (best > 0) add(best, {at(where[0]), at(where[1])});
        for (std::size_t g = 0; all && g < count; ++g)
            for (std::size_t h = g + 1; h < count; ++h)
                if (fall[g * count + h] < best && is_peak(g, h)) add(fall[g * count + h], {at(g), at(h)});
    } else {
        double best = -1;
        Row<parts> where{};
        for (std::size_t g = 0; g < count; ++g)
            for (std::size_t h = g + 1; h < count; ++h)
                for (std::size_t i = h + 1; i < count; ++i) {
                    Table<3, 3> a{{{product(g, g), 0, 0},
                                   {product(g, h), product(h, h), 0},
                                   {product(g, i), product(h, i), product(i, i)}}};
                    if (!factor(a, 1e-10)) continue;
                    const Row<3> half = forward(a, Row<3>{with_y[g], with_y[h], with_y[i]});
                    const double fall = dot(half, half);
                    if (fall > best) {
                        best = fall;
                        where = {at(g), at(h), at(i)};
                    }
                }
        if (best > 0) add(best, where);
    }
    return out;
}

template <std::size_t parts>
std::array<std::size_t, parts> ascending(const Row<parts>& log_t) {
    std::array<std::size_t, parts> order;
    for (std::size_t k = 0; k < parts; ++k) order[k] = k;
    std::ranges::sort(order, {}, [&](std::size_t k) { return log_t[k]; });
    return order;
}

template <std::size_t parts>
Told told(const Row<parts>& log_t, const Table<parts, parts>& errors, double samples) {
    Told out;
    const auto order = ascending(log_t);
    for (std::size_t place = 0; place < parts; ++place) {
        const std::size_t k = order[place];
        out.inside = out.inside && log_t[k] >= std::log(shortest) && log_t[k] <= std::log(longest * samples);
        // Also where an error is not a number.
        if (!(errors[k][k] <= out.known_to * out.known_to)) out.known_to = std::sqrt(errors[k][k]);
        if (place == 0) continue;
        const std::size_t l = order[place - 1];
        const double apart = log_t[k] - log_t[l];
        out.inside = out.inside && apart >= closest;
        out.apart_by =
            std::min(out.apart_by, apart / std::sqrt(errors[k][k] + errors[l][l] - 2 * errors[k][l]));
    }
    return out;
}

/// The answer, if the noise lets its parts be told from each other.
template <std::size_t parts, std::size_t ones>
std::optional<EvenExponentials> run(const Curve& curve, double constant, double interval) {
    const auto count = static_cast<double>(curve.size());
    const EvenDescent<Exponentials<parts, ones>> descent({count}, curve.y, constant);
    if (!descent.ordinary()) return std::nullopt;
    const auto lowest = [&](bool every) {
        const Starts<parts> starts = starts_of<parts, ones>(descent.means(), curve.size(), every);
        return descent.lowest({starts.log_t.data(), starts.count}, every);
    };
    auto at = lowest(false);
    const bool every = !at || !at->plain;
    if (every && parts == 3) return std::nullopt;  // of its many valleys only one was looked at
    if (every) at = lowest(true);
    if (!at) return std::nullopt;
    const auto judge = [&] { return told(at->shape, descent.covariance(*at), count); };
    if (const Told how = judge(); !how.well()) {
        if (parts == 3 || !how.barely()) return std::nullopt;
        if (!every) at = lowest(true);
        if (!at || !at->plain || !judge().barely()) return std::nullopt;
    }
    EvenExponentials out;
    const auto order = ascending(at->shape);
    for (std::size_t place = 0; place < parts; ++place) {
        const std::size_t k = order[place];
        out.time_constant[place] = std::exp(at->shape[k]) * interval;
        out.amplitude[place] = at->amplitude[k] * std::exp(curve.x.front() / out.time_constant[place]);
        if (!std::isfinite(out.amplitude[place])) return std::nullopt;
    }
    if constexpr (ones == 1) out.offset = at->amplitude[parts];
    out.rss = at->rss;
    return out;
}

template <std::size_t parts>
std::optional<EvenExponentials> run(const Curve& curve, bool with_offset, double constant, double interval) {
    if (with_offset) return run<parts, 1>(curve, constant, interval);
    return run<parts, 0>(curve, constant, interval);
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
