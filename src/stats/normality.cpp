#include "stats/normality.hpp"

#include <algorithm>
#include <cmath>

#include "stats/distributions.hpp"
#include "stats/moments.hpp"

namespace ebbtide::stats {
namespace {

/// Stephens' fits of ln p, or of ln(1 - p), to A^2 (1 + 0.75/n + 2.25/n^2).
double p_of(double a) {
    if (a >= 0.6) return std::exp(1.2937 - 5.709 * a + 0.0186 * a * a);
    if (a >= 0.34) return std::exp(0.9177 - 4.279 * a - 1.38 * a * a);
    if (a >= 0.2) return 1 - std::exp(-8.318 + 42.796 * a - 59.938 * a * a);
    return 1 - std::exp(-13.436 + 101.14 * a - 223.73 * a * a);
}

}  // namespace

std::optional<AndersonDarling> anderson_darling(std::span<const double> values) {
    if (values.size() < 8) return {};
    const Moments moments = moments_of(values);
    if (!(moments.variance > 0)) return {};
    std::vector<double> z;
    for (const double value : values) z.push_back((value - moments.mean) / moments.s());
    std::ranges::sort(z);
    double sum = 0;
    for (std::size_t i = 0; i < z.size(); ++i)
        sum += static_cast<double>(2 * i + 1) *
               (std::log(normal_below(z[i])) + std::log(normal_below(-z[z.size() - 1 - i])));
    const double n = moments.n, statistic = -n - sum / n;
    // Beyond 13 the fit would turn up again; p is 0 to all digits there.
    return AndersonDarling{statistic, p_of(std::min(statistic * (1 + 0.75 / n + 2.25 / (n * n)), 13.0))};
}

std::optional<FurthestValue> grubbs(std::span<const double> values) {
    if (values.size() < 3) return {};
    const Moments moments = moments_of(values);
    if (!(moments.variance > 0)) return {};
    FurthestValue out;
    for (std::size_t i = 0; i < values.size(); ++i)
        if (const double distance = std::abs(values[i] - moments.mean) / moments.s();
            distance > out.statistic)
            out = {i, distance, 0};
    const double n = moments.n, g = out.statistic, room = (n - 1) * (n - 1) - n * g * g;
    if (room > 0) {
        const double t = std::sqrt(n * (n - 2) * g * g / room);
        out.p = std::min(1.0, 2 * n * students_t_below(-t, n - 2));
    }
    return out;
}

double grubbs_critical(int n, double level) {
    const double t = students_t_quantile(level / (2 * n), n - 2);
    return (n - 1) / std::sqrt(static_cast<double>(n)) * std::sqrt(t * t / (n - 2 + t * t));
}

}  // namespace ebbtide::stats
