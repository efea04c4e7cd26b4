#include "fit/rise.hpp"

#include <algorithm>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>

namespace ebbtide::fit {

double deviations_allowed(Scatter scatter, double degrees_of_freedom, double confidence) {
    const double share = 0.5 + confidence / 2;
    if (scatter == Scatter::stated || scatter == Scatter::stated_noise)
        return boost::math::quantile(boost::math::normal(), share);
    return boost::math::quantile(boost::math::students_t(degrees_of_freedom), share);
}

std::optional<double> where_chance_ends(const RootOfRise& root, const Walk& walk) {
    double inside = walk.from, root_inside = 0, step = walk.step;
    std::vector<double> logs_inside(walk.log_theta);
    for (int turn = 0; turn < 60; ++turn) {
        double outside = std::clamp(inside + step, walk.low, walk.high);
        if (outside == inside) return std::nullopt;
        std::vector<double> logs(logs_inside);
        double root_outside = root(outside, logs);
        if (std::abs(root_outside - 1) < walk.closeness) return outside;
        if (root_outside < 1) {
            inside = outside;
            root_inside = root_outside;
            logs_inside = logs;
            step *= 1.5;
            continue;
        }
        for (int halving = 0; halving < 40; ++halving) {
            const double share =
                std::isfinite(root_outside)
                    ? std::clamp((1 - root_inside) / (root_outside - root_inside), 0.05, 0.95)
                    : 0.5;
            const double middle = inside + share * (outside - inside);
            logs = logs_inside;
            const double at_middle = root(middle, logs);
            if (std::abs(at_middle - 1) < walk.closeness || middle == inside || middle == outside)
                return middle;
            if (at_middle < 1) {
                inside = middle;
                root_inside = at_middle;
                logs_inside = logs;
            } else {
                outside = middle;
                root_outside = at_middle;
            }
        }
        return (inside + outside) / 2;
    }
    return std::nullopt;
}

}  // namespace ebbtide::fit
