#include "judge/uncertainty_of.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>

#include "judge/statistic.hpp"

namespace ebbtide::judge {

Sum sum_of(std::span<const decay::Contribution> budget) {
    Sum sum;
    sum.u_s = decay::combined_u_s(budget);
    // From a million on Student's t is the normal to six digits; below one it has no use.
    if (const auto freedom = decay::effective_degrees_of_freedom(budget); freedom && *freedom < 1e6)
        sum.degrees_of_freedom = std::max(1.0, *freedom);
    const double coverage =
        sum.degrees_of_freedom
            ? boost::math::quantile(boost::math::students_t(*sum.degrees_of_freedom), 0.975)
            : boost::math::quantile(boost::math::normal(), 0.975);
    sum.expanded_u_s = coverage * sum.u_s;
    return sum;
}

std::vector<decay::Contribution> budget_of_mean(std::span<const std::size_t> group,
                                                std::span<const JudgedRun> runs, const plan::Level& level) {
    std::vector<decay::RunBudget> parts;
    for (const std::size_t i : group)
        parts.push_back({figure_at(runs[i], level)->budget, series_of(runs[i].key), runs[i].key.conditions});
    return decay::budget_of_mean(parts);
}

std::string series_of(const plan::RunKey& key) {
    return fmt::format("{}\n{}\n{}\n{}", key.specimen, key.face, key.conditions, plan::sign_of(key.polarity));
}

}  // namespace ebbtide::judge
