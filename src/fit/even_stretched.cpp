#include "fit/even_stretched.hpp"

#include <vector>

#include "fit/even_descent.hpp"
#include "lanes/even_spacing.hpp"
#include "lanes/stretched_sums.hpp"

namespace ebbtide::fit {
namespace {

constexpr std::size_t fewest = 100;
constexpr std::size_t most_kept = 16384;  // logarithms of time, 128 kB

// What must hold for an answer to be trusted.
constexpr double known_to = 0.3;  // standard error of the logarithms, white noise supposed
constexpr double lowest_exponent = 0.1, highest_exponent = 8;
constexpr double shortest = 0.5;  // time constant, intervals
constexpr double longest = 10;    // last x

/// Shape: logarithms of the time constant in intervals and of the exponent.
template <std::size_t ones_>
struct Stretched {
    static constexpr std::size_t parts = 1, ones = ones_, shapes = 2;
    static constexpr bool has_rough_gradient = false;
    static constexpr std::size_t column_of(std::size_t /*k*/) { return 0; }
    const lanes::StretchedPlaces* places;
    std::span<const double> log_t;  // of the samples, or empty
    double first, samples;

    [[nodiscard]] Row<2> low() const { return {std::log(0.01), std::log(0.02)}; }
    [[nodiscard]] Row<2> high() const { return {std::log(1000 * (first + samples)), std::log(15.0)}; }
    [[nodiscard]] lanes::TierSums sums(const lanes::MeanTiers& means, const Row<2>& shape) const {
        return lanes::stretched_tier_sums(means, *places, shape[0], std::exp(shape[1]));
    }
    [[nodiscard]] SampleGradient<1, 2> gradient(std::span<const double> y, const Row<2>& shape,
                                                const Row<1 + ones>& amplitude, double constant,
                                                bool /*rough*/) const {
        lanes::StretchedSum sum{shape[0], std::exp(shape[1]), amplitude[0], constant};
        if constexpr (ones == 1) sum.constant += amplitude[1];
        const lanes::StretchedResiduals left = lanes::stretched_residuals(y, log_t, first, sum);
        return {left.squares, left.plain, {left.with}, {left.by_time, left.by_exponent}};
    }
};

/// Where the fall, from the first mean to the last or to `end`, passes three quarters and three tenths: with
/// those two places go one time constant and one exponent. Others follow, for curves that end too early to
/// show how far they fall.
std::array<Row<2>, 3> starts_of(const lanes::MeanTiers& means, double first, bool to_the_last) {
    const auto value = [&](std::size_t s, std::size_t row) { return means.mean[row * means.padded + s]; };
    const std::size_t last = means.tiers - 1;
    constexpr std::size_t rows = lanes::MeanTiers::rows;
    const double end = to_the_last ? (value(last, rows - 1) + value(last, rows - 2)) / 2 : 0;
    const double begin = value(0, 0);
    const double far = first + means.start[last] + means.block[last] * static_cast<double>(rows);
    double early = 0, late = far;
    for (std::size_t s = 0; s < means.tiers; ++s)
        for (std::size_t row = 0; row < rows; ++row) {
            const double share = (value(s, row) - end) / (begin - end);
            const double t = first + means.start[s] + means.block[s] * (static_cast<double>(row) + 0.5);
            if (share > 0.75) early = t;
            if (share < 0.3 && late == far) late = t;
        }
    early = std::clamp(early, 0.5, 0.8 * far);
    late = std::max(late, 1.2 * early);
    const double exponent =
        std::clamp(std::log(std::log(1 / 0.3) / std::log(1 / 0.75)) / std::log(late / early), 0.2, 3.0);
    const double log_t = std::log(late) - std::log(std::log(1 / 0.3)) / exponent;
    return {{{std::clamp(log_t, std::log(0.2), std::log(5 * far)), std::log(exponent)},
             {std::log(far / 2), std::log(0.5)},
             {std::log(far / 20), std::log(0.5)}}};
}

template <std::size_t ones>
std::optional<EvenStretched> run(const Curve& curve, double constant, double interval) {
    const auto count = static_cast<double>(curve.size());
    const double first = curve.x.front() / interval;
    lanes::StretchedPlaces places;
    std::vector<double> log_t(curve.size() <= most_kept ? curve.size() : 0);
    lanes::log_times(first, log_t);
    const EvenDescent<Stretched<ones>> descent({&places, log_t, first, count}, curve.y, constant);
    if (!descent.ordinary()) return std::nullopt;
    lanes::take_places(descent.means(), first, places);
    const auto at = descent.lowest(starts_of(descent.means(), first, ones == 1));
    if (!at || !at->plain) return std::nullopt;
    const Table<2, 2> errors = descent.covariance(*at);
    for (std::size_t k = 0; k < 2; ++k)
        if (!(errors[k][k] < known_to * known_to)) return std::nullopt;
    EvenStretched out;
    out.exponent = std::exp(at->shape[1]);
    const double time = std::exp(at->shape[0]);  // in intervals
    if (out.exponent < lowest_exponent || out.exponent > highest_exponent || time < shortest ||
        time > longest * (first + count))
        return std::nullopt;
    out.time_constant = time * interval;
    out.amplitude = at->amplitude[0];
    if constexpr (ones == 1) out.offset = at->amplitude[1];
    out.rss = at->rss;
    return out;
}

}  // namespace

std::optional<EvenStretched> fit_even_stretched(const Curve& curve, bool with_offset, double constant) {
    if (!curve.sigma.empty() || curve.x.size() != curve.y.size() || curve.size() < fewest ||
        !(curve.x.front() >= 0) || !lanes::evenly_spaced(curve.x))
        return std::nullopt;
    const double interval = (curve.x.back() - curve.x.front()) / static_cast<double>(curve.size() - 1);
    return with_offset ? run<1>(curve, constant, interval) : run<0>(curve, constant, interval);
}

}  // namespace ebbtide::fit
