#include "fit/curve.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace ebbtide::fit {

CurveStore sorted(const Curve& curve) {
    std::vector<std::size_t> order(curve.size());
    std::iota(order.begin(), order.end(), std::size_t{0});
    std::ranges::stable_sort(order, {}, [&](std::size_t i) { return curve.x[i]; });
    CurveStore out;
    for (const std::size_t i : order) {
        out.x.push_back(curve.x[i]);
        out.y.push_back(curve.y[i]);
        if (!curve.sigma.empty()) out.sigma.push_back(curve.sigma[i]);
    }
    return out;
}

CurveStore block_means(const Curve& curve) {
    constexpr std::size_t few = 256;
    constexpr double widening = 0.05;
    CurveStore out;
    if (curve.size() <= few) {
        out.x.assign(curve.x.begin(), curve.x.end());
        out.y.assign(curve.y.begin(), curve.y.end());
        out.sigma.assign(curve.sigma.begin(), curve.sigma.end());
        return out;
    }
    const double origin = curve.x.front();
    for (std::size_t i = 0; i < curve.size();) {
        const double end = origin + (1 + widening) * (curve.x[i] - origin);
        // Means about the block's first point lose no digits to a large x or y.
        double weights = 0, x_sum = 0, y_sum = 0;
        const std::size_t first = i;
        do {
            const double s = curve.sigma.empty() ? 1 : curve.sigma[i];
            const double weight = 1 / (s * s);
            weights += weight;
            x_sum += weight * (curve.x[i] - curve.x[first]);
            y_sum += weight * (curve.y[i] - curve.y[first]);
            ++i;
        } while (i < curve.size() && curve.x[i] < end);
        out.x.push_back(curve.x[first] + x_sum / weights);
        out.y.push_back(curve.y[first] + y_sum / weights);
        out.sigma.push_back(1 / std::sqrt(weights));
    }
    return out;
}

}  // namespace ebbtide::fit
