#include "fit/passage.hpp"

#include <algorithm>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <boost/math/tools/toms748_solve.hpp>
#include <cmath>
#include <limits>

#include "fit/held_law.hpp"
#include "fit/rise.hpp"

namespace ebbtide::fit {
namespace {

constexpr double confidence = 0.95;
constexpr double closeness = 1e-3;  // of the ends, in units of half the interval

/// Steps within the record, then by factors up to the farthest.
std::vector<double> lookouts(double last) {
    constexpr int within = 64;
    std::vector<double> out;
    for (int i = 0; i < within; ++i) out.push_back(last * i / within);
    for (double x = last; x < last * Passages::farthest; x *= 1.5) out.push_back(x);
    out.push_back(last * Passages::farthest);
    return out;
}

/// The last place where the law comes below the level for good.
std::optional<double> passage_of(const HeldLaw& law, const Condition& condition) {
    const double start = condition.share_of_start != 0 ? law.values({0}).front() : 0;
    const double level = condition.target + condition.share_of_start * start;
    const double side = condition.falling ? 1 : -1;
    const std::vector<double> x = lookouts(law.last());
    std::vector<double> height = law.values(x);
    for (double& value : height) value = side * (value - level);
    std::size_t below = x.size();
    while (below > 0 && height[below - 1] <= 0) --below;
    if (below == 0 || below == x.size() || !std::isfinite(height[below - 1])) return std::nullopt;
    std::uintmax_t turns = 100;
    const auto found = boost::math::tools::toms748_solve(
        [&](double where) { return side * (law.values({where}).front() - level); }, x[below - 1], x[below],
        height[below - 1], height[below], boost::math::tools::eps_tolerance<double>(50), turns);
    return (found.first + found.second) / 2;
}

}  // namespace

Passages::Passages(const Law& law, const Curve& curve, const Fit& fit, Scatter scatter)
    : law_(std::make_unique<HeldLaw>(law, curve, fit, scatter)),
      scatter_(scatter),
      degrees_of_freedom_(fit.degrees_of_freedom) {}

Passages::~Passages() = default;

Passage Passages::of(const Condition& condition) {
    HeldLaw& law = *law_;
    Passage out;
    const bool known = scatter_ == Scatter::stated || scatter_ == Scatter::stated_noise;
    out.degrees_of_freedom = known ? std::numeric_limits<double>::infinity() : degrees_of_freedom_;
    out.x = passage_of(law, condition);
    if (!law.usable()) return out;

    const double allowed = deviations_allowed(scatter_, degrees_of_freedom_, confidence);
    law.aim(condition, out.x.value_or(law.last() * farthest), allowed);
    double side = -1;
    const auto root_of_rise = [&](double log_x, std::vector<double>& log_theta) {
        const double x = std::exp(log_x), deviations = law.deviations_at(x, log_theta);
        if (std::isfinite(deviations)) out.shape.push_back({x, side * deviations});
        return deviations / allowed;
    };
    // Had it come before its end, the record would show it.
    Walk walk{.low = std::log(law.last()),
              .high = std::log(law.last() * farthest),
              .log_theta = law.log_theta(),
              .closeness = closeness};
    const auto end_of = [&](double step) -> std::optional<double> {
        walk.step = step;
        const std::optional<double> log_x = where_chance_ends(root_of_rise, walk);
        if (!log_x) return std::nullopt;
        return std::exp(*log_x);
    };
    if (out.x) {
        const double step = allowed * std::clamp(law.u_log(*out.x).value_or(0.1), 1e-9, 0.3);
        out.shape.push_back({*out.x, 0});
        walk.from = std::log(*out.x);
        if (walk.from > walk.low) out.low = end_of(-step);
        walk.low = std::min(walk.low, walk.from);
        side = 1;
        out.high = end_of(step);
    } else {
        // It ends above: all that can be known is before which time chance does not let it pass.
        walk.from = walk.high;
        if (root_of_rise(walk.from, walk.log_theta) < 1) out.low = end_of(-1);
    }
    std::ranges::stable_sort(out.shape, {}, &PassagePoint::x);
    const auto same_x = [](const PassagePoint& a, const PassagePoint& b) { return a.x == b.x; };
    out.shape.erase(std::unique(out.shape.begin(), out.shape.end(), same_x), out.shape.end());
    for (std::size_t i = 1; i < out.shape.size(); ++i)
        out.shape[i].deviations = std::max(out.shape[i].deviations, out.shape[i - 1].deviations);
    return out;
}

double Passage::chance_before(double x_asked) const {
    if (shape.empty()) return 0;
    const auto distribution = [&](double deviations) {
        if (std::isinf(degrees_of_freedom)) return boost::math::cdf(boost::math::normal(), deviations);
        return boost::math::cdf(boost::math::students_t(degrees_of_freedom), deviations);
    };
    const auto next = std::ranges::find_if(shape, [&](const PassagePoint& p) { return p.x >= x_asked; });
    if (next == shape.begin() && next->x == x_asked) return distribution(next->deviations);
    if (shape.size() == 1) return x_asked < shape.front().x ? 0 : 1;
    // Between two points, or along the line through the first or last two; where the passage may never
    // come, the last point is the farthest and says so.
    const auto right = next == shape.begin() ? next + 1 : next == shape.end() ? next - 1 : next;
    const auto left = right - 1;
    if (next == shape.end() && !high) return distribution(right->deviations);
    // Ratios, because neighbours may be so near that their logarithms are alike.
    const double share = std::log(x_asked / left->x) / std::log(right->x / left->x);
    return distribution(left->deviations + share * (right->deviations - left->deviations));
}

}  // namespace ebbtide::fit
