#include "stats/proportion.hpp"

#include <cmath>

#include "stats/distributions.hpp"

namespace ebbtide::stats {

double clopper_pearson_upper(int found, int n, double confidence) {
    return found == n ? 1 : beta_quantile(confidence, found + 1.0, static_cast<double>(n - found));
}

ConfidenceInterval clopper_pearson(int found, int n, double confidence) {
    const double outside = (1 - confidence) / 2;
    const double low = found == 0 ? 0 : beta_quantile(outside, found, n - found + 1.0);
    return {low, clopper_pearson_upper(found, n, 1 - outside)};
}

ShareBeyond normal_share_beyond(double mean, double s, int n, double limit, double confidence) {
    const double root = std::sqrt(static_cast<double>(n)), t = root * (limit - mean) / s;
    const double outside = (1 - confidence) / 2;
    // The larger the distance of limit and mean, the smaller the share beyond.
    const double furthest = noncentrality_for(outside, t, n - 1),
                 nearest = noncentrality_for(1 - outside, t, n - 1);
    return {normal_below(-t / root), {normal_below(-furthest / root), normal_below(-nearest / root)}};
}

}  // namespace ebbtide::stats
