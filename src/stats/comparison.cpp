#include "stats/comparison.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "stats/distributions.hpp"

namespace ebbtide::stats {

Difference difference_of(const GroupMean& first, const GroupMean& second, double confidence) {
    Difference out;
    const double variance = first.variance + second.variance;
    out.difference = first.mean - second.mean;
    out.standard_error = std::sqrt(variance);
    out.degrees_of_freedom = variance * variance /
                             (first.variance * first.variance / first.degrees_of_freedom +
                              second.variance * second.variance / second.degrees_of_freedom);
    out.p = 2 * students_t_below(-std::abs(out.difference) / out.standard_error, out.degrees_of_freedom);
    const double reach =
        students_t_quantile((1 + confidence) / 2, out.degrees_of_freedom) * out.standard_error;
    out.interval = {out.difference - reach, out.difference + reach};
    return out;
}

std::vector<double> holm(std::span<const double> p) {
    std::vector<std::size_t> order(p.size());
    std::iota(order.begin(), order.end(), std::size_t{0});
    std::ranges::stable_sort(order, [&](std::size_t a, std::size_t b) { return p[a] < p[b]; });
    std::vector<double> out(p.size());
    double largest = 0;
    for (std::size_t i = 0; i < order.size(); ++i) {
        largest = std::max(largest, std::min(1.0, static_cast<double>(p.size() - i) * p[order[i]]));
        out[order[i]] = largest;
    }
    return out;
}

double equivalence_p(const Difference& difference, double margin) {
    const double nearer_end = margin - std::abs(difference.difference);
    return students_t_below(-nearer_end / difference.standard_error, difference.degrees_of_freedom);
}

}  // namespace ebbtide::stats
