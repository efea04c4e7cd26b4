#include "stats/replicates.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include "stats/distributions.hpp"
#include "stats/moments.hpp"

namespace ebbtide::stats {

std::optional<SpecimenVariation> specimen_variation(std::span<const std::vector<double>> specimens) {
    SpecimenVariation out;
    double sum = 0, sum_of_squared_sizes = 0;
    std::vector<Moments> groups;
    for (const std::vector<double>& values : specimens) {
        if (values.empty()) continue;
        groups.push_back(moments_of(values));
        const Moments& group = groups.back();
        out.values += group.n;
        sum += group.n * group.mean;
        sum_of_squared_sizes += group.n * group.n;
        out.squares_within += (group.n - 1) * group.variance;
    }
    out.specimens = static_cast<double>(groups.size());
    out.degrees_between = out.specimens - 1;
    out.degrees_within = out.values - out.specimens;
    if (out.degrees_between < 1 || out.degrees_within < 1) return {};

    const double grand = sum / out.values;
    for (const Moments& group : groups)
        out.squares_between += group.n * (group.mean - grand) * (group.mean - grand);
    const double between = out.squares_between / out.degrees_between;
    out.variance_within = out.squares_within / out.degrees_within;
    if (out.variance_within > 0) {
        out.f_ratio = between / out.variance_within;
        out.p = f_above(out.f_ratio, out.degrees_between, out.degrees_within);
    }
    const double size = (out.values - sum_of_squared_sizes / out.values) / out.degrees_between;
    out.variance_between = std::max(0.0, (between - out.variance_within) / size);

    double weights = 0;
    for (const Moments& group : groups) {
        const double variance = out.variance_between + out.variance_within / group.n;
        const double weight = variance > 0 ? 1 / variance : 1;
        weights += weight;
        out.mean += weight * group.mean;
    }
    out.mean /= weights;
    out.variance_of_mean = out.variance_of_value() > 0 ? 1 / weights : 0;
    out.effective_values =
        out.variance_of_mean > 0 ? out.variance_of_value() / out.variance_of_mean : out.specimens;
    return out;
}

std::optional<ReplicateTrend> replicate_trend(std::span<const Replicate> replicates) {
    struct Sums {
        double n = 0, number = 0, value = 0;
    };
    std::map<std::size_t, Sums> specimens;
    for (const Replicate& one : replicates) {
        Sums& sums = specimens[one.specimen];
        sums.n += 1;
        sums.number += one.number;
        sums.value += one.value;
    }
    double squares = 0, products = 0, squares_of_values = 0;
    for (const Replicate& one : replicates) {
        const Sums& sums = specimens[one.specimen];
        const double x = one.number - sums.number / sums.n, y = one.value - sums.value / sums.n;
        squares += x * x;
        products += x * y;
        squares_of_values += y * y;
    }
    ReplicateTrend out;
    out.degrees_of_freedom =
        static_cast<double>(replicates.size()) - static_cast<double>(specimens.size()) - 1;
    if (!(squares > 0) || out.degrees_of_freedom < 1) return {};
    out.slope = products / squares;
    const double left = std::max(0.0, squares_of_values - out.slope * products);
    out.standard_error = std::sqrt(left / out.degrees_of_freedom / squares);
    if (out.standard_error > 0)
        out.p = 2 * students_t_below(-std::abs(out.slope) / out.standard_error, out.degrees_of_freedom);
    else
        out.p = out.slope == 0 ? 1 : 0;
    return out;
}

}  // namespace ebbtide::stats
