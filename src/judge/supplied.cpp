#include "judge/supplied.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <set>

#include "basis/number_text.hpp"
#include "judge/decide.hpp"
#include "plan/flag.hpp"

namespace ebbtide::judge {
namespace {

using plan::Conformity;

constexpr double coverage = 1.959964;  // normal, 95 %
constexpr const char* whole = "the items as a whole";

std::string reason_for(const plan::SuppliedResult& result, const plan::Requirement& requirement,
                       Conformity outcome, double guard) {
    const bool met = outcome == Conformity::pass || outcome == Conformity::conditional_pass;
    const bool conditional =
        outcome == Conformity::conditional_pass || outcome == Conformity::conditional_fail;
    std::string reason =
        fmt::format("{} {} {} {} {}", requirement.supplied->quantity, uncertain_text(result.value, result.u),
                    met ? "meets" : "does not meet", plan::symbol_of(requirement.comparison),
                    shortest_text(requirement.supplied->limit));
    if (conditional)
        reason += fmt::format(" but lies {} the guard band of {}", met ? "inside" : "beyond it by less than",
                              significant_text(guard, 2));
    return fmt::format("{} (supplied: {})", reason, result.source);
}

Finding finding_of(const plan::SuppliedResult& result, const plan::Requirement& requirement,
                   const plan::DecisionRule& rule) {
    Finding finding;
    finding.group = result.specimen.empty() ? whole : result.specimen;
    finding.supplied = result.value;
    finding.u_supplied = result.u;
    const double limit = requirement.supplied->limit;
    const bool guarded = rule.kind == plan::DecisionRule::Kind::guarded;
    if (guarded && rule.guard_s) {
        finding.reason = fmt::format(
            "{} {}: the agreed guard band of {} s says nothing of it; agree on one as a multiple of U "
            "(guard_times_U)",
            requirement.supplied->quantity, uncertain_text(result.value, result.u),
            shortest_text(*rule.guard_s));
        return finding;
    }
    const double guard = guarded ? rule.guard_times_U * coverage * result.u : 0;
    finding.outcome = outcome_at(result.value, guard, requirement.comparison, limit);
    if (result.u > 0) {
        const Estimate estimate{result.value, result.u, {}};
        const Limits conforming = limits_of(requirement.comparison, limit);
        if (finding.outcome == Conformity::pass || finding.outcome == Conformity::conditional_pass)
            finding.wrong_acceptance = probability_beyond(estimate, conforming);
        else
            finding.wrong_rejection = probability_within(estimate, conforming);
    }
    finding.reason = reason_for(result, requirement, finding.outcome, guard);
    if (guarded && result.u == 0)
        finding.reason += "; its uncertainty is stated as 0, so that no guard band applies";
    return finding;
}

Finding missing(const plan::Requirement& requirement, const std::string& group) {
    Finding finding;
    finding.group = group;
    finding.reason =
        fmt::format("no {} is supplied: give its value, u and source under [[supplied]] of the order{}",
                    requirement.supplied->quantity,
                    group == whole ? std::string() : fmt::format(", with specimen = \"{}\"", group));
    return finding;
}

}  // namespace

std::vector<Finding> supplied_findings(const plan::Requirement& requirement, const plan::Order& order,
                                       std::span<const JudgedRun> runs) {
    std::vector<Finding> findings;
    std::set<std::string> known;
    for (const plan::SuppliedResult& result : order.supplied) {
        if (result.quantity != requirement.supplied->quantity) continue;
        findings.push_back(finding_of(result, requirement, order.decision_rule));
        known.insert(result.specimen);
    }
    if (findings.empty()) return {missing(requirement, whole)};
    if (known.contains("")) return findings;
    for (const JudgedRun& run : runs) {
        const bool planned =
            !run.without_specimen &&
            std::ranges::find(run.flags, plan::FlagCode::run_unplanned, &plan::Flag::code) == run.flags.end();
        if (planned && known.insert(run.key.specimen).second)
            findings.push_back(missing(requirement, run.key.specimen));
    }
    return findings;
}

}  // namespace ebbtide::judge
