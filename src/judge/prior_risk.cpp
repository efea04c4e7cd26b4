#include "judge/prior_risk.hpp"

#include <algorithm>

#include "judge/decide.hpp"
#include "judge/risk.hpp"

namespace ebbtide::judge {

std::optional<PriorRisk> prior_risk_of(const RequirementOutcome& outcome, const plan::DecisionRule& rule) {
    const auto history = std::ranges::find(rule.history, outcome.requirement.id, &plan::History::requirement);
    if (history == rule.history.end()) return {};
    std::vector<const Finding*> measured;
    for (const Finding& finding : outcome.findings)
        if (finding.bound == BoundKind::value && finding.u_s && *finding.u_s > 0)
            measured.push_back(&finding);
    if (measured.empty()) return {};
    std::ranges::sort(measured, {}, [](const Finding* finding) { return *finding->u_s; });
    const Finding& typical = *measured[(measured.size() - 1) / 2];
    const auto guard = guard_width(rule, typical.expanded_u_s);
    if (!guard) return {};
    const plan::Requirement& requirement = outcome.requirement;
    const GlobalRisk risk = global_risk({history->mean_s, history->standard_deviation_s}, *typical.u_s,
                                        limits_of(requirement.comparison, requirement.limit_s), *guard);
    return PriorRisk{*history, *typical.u_s, *guard, risk.consumer, risk.producer};
}

}  // namespace ebbtide::judge
