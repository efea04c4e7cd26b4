#include "decay/akaike.hpp"

#include <cmath>

namespace ebbtide::decay {

std::optional<double> akaike_criterion(const Leftover& left, double effective_samples) {
    const double parameters = static_cast<double>(left.parameters) + 1;  // the scatter is one more
    const double spare = effective_samples - parameters - 1;
    if (!(spare > 0) || !(left.rss > 0)) return std::nullopt;
    return effective_samples * std::log(left.rss / static_cast<double>(left.points)) + 2 * parameters +
           2 * parameters * (parameters + 1) / spare;
}

std::vector<double> akaike_weights(std::span<const std::optional<double>> criteria) {
    std::optional<double> lowest;
    for (const auto& criterion : criteria)
        if (criterion && (!lowest || *criterion < *lowest)) lowest = criterion;
    std::vector<double> out(criteria.size(), 0.0);
    double sum = 0;
    for (std::size_t i = 0; i < criteria.size(); ++i) {
        if (criteria[i]) out[i] = std::exp(-(*criteria[i] - *lowest) / 2);
        sum += out[i];
    }
    if (sum > 0)
        for (double& weight : out) weight /= sum;
    return out;
}

}  // namespace ebbtide::decay
