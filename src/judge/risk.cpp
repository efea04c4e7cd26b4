#include "judge/risk.hpp"

#include <algorithm>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <boost/math/quadrature/gauss_kronrod.hpp>
#include <cmath>
#include <vector>

namespace ebbtide::judge {
namespace {

double normal_below(double z) {
    return 0.5 * std::erfc(-z / std::sqrt(2.0));
}

/// Probability that the true value lies below `at`.
double below(const Estimate& estimate, double at) {
    if (!(estimate.u > 0)) return estimate.value < at ? 1 : estimate.value > at ? 0 : 0.5;
    const double z = (at - estimate.value) / estimate.u;
    if (!estimate.degrees_of_freedom) return normal_below(z);
    return boost::math::cdf(boost::math::students_t(*estimate.degrees_of_freedom), z);
}

double above(const Estimate& estimate, double at) {
    return below({-estimate.value, estimate.u, estimate.degrees_of_freedom}, -at);
}

bool within(double value, const Limits& limits) {
    return (!limits.lower || value >= *limits.lower) && (!limits.upper || value <= *limits.upper);
}

}  // namespace

double probability_beyond(const Estimate& estimate, const Limits& limits) {
    // A known value beyond no limit is within, also on the limit itself.
    if (!(estimate.u > 0)) return within(estimate.value, limits) ? 0 : 1;
    return (limits.lower ? below(estimate, *limits.lower) : 0) +
           (limits.upper ? above(estimate, *limits.upper) : 0);
}

double probability_within(const Estimate& estimate, const Limits& limits) {
    if (!(estimate.u > 0)) return within(estimate.value, limits) ? 1 : 0;
    if (!limits.lower) return below(estimate, *limits.upper);
    if (!limits.upper) return above(estimate, *limits.lower);
    // On the side of the nearer tail, where the difference keeps its digits.
    return estimate.value < *limits.lower ? above(estimate, *limits.lower) - above(estimate, *limits.upper)
                                          : below(estimate, *limits.upper) - below(estimate, *limits.lower);
}

GlobalRisk global_risk(const Prior& prior, double u, const Limits& limits, double guard) {
    const Limits accepted{limits.lower ? std::optional(*limits.lower + guard) : std::nullopt,
                          limits.upper ? std::optional(*limits.upper - guard) : std::nullopt};
    if (accepted.lower && accepted.upper && *accepted.lower >= *accepted.upper)
        return {0, probability_within({prior.mean, prior.standard_deviation, {}}, limits)};

    // In units of the prior, over all of it that 1e-18 leaves. The pieces end at the limits, where the
    // integrand changes, and close in on the ends of acceptance, where it may be steep.
    constexpr double reach = 9;
    std::vector<double> ends{-reach, -4, -1.5, 0, 1.5, 4, reach};
    const auto add = [&](double value) {
        const double z = (value - prior.mean) / prior.standard_deviation;
        if (z > -reach && z < reach) ends.push_back(z);
    };
    for (const auto& limit : {limits.lower, limits.upper})
        if (limit) add(*limit);
    for (const auto& limit : {accepted.lower, accepted.upper})
        for (const double steps : {-8.0, -2.5, 0.0, 2.5, 8.0})
            if (limit) add(*limit + steps * u);
    std::ranges::sort(ends);

    GlobalRisk risk;
    for (std::size_t i = 0; i + 1 < ends.size(); ++i) {
        if (!(ends[i] < ends[i + 1])) continue;
        const auto truth = [&](double z) { return prior.mean + prior.standard_deviation * z; };
        const bool conforms = within(truth((ends[i] + ends[i + 1]) / 2), limits);
        const auto density = [&](double z) {
            // Where a piece is accepted depends on the value measured, which scatters about the truth.
            const Estimate measured{truth(z), u, {}};
            const double wrong =
                conforms ? probability_beyond(measured, accepted) : probability_within(measured, accepted);
            return wrong * std::exp(-z * z / 2) * 0.3989422804014327;  // 1/sqrt(2 pi)
        };
        const double share = boost::math::quadrature::gauss_kronrod<double, 31>::integrate(
            density, ends[i], ends[i + 1], 10, 1e-12);
        (conforms ? risk.producer : risk.consumer) += share;
    }
    return risk;
}

}  // namespace ebbtide::judge
