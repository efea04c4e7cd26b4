#include "judge/judgement.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "basis/number_text.hpp"
#include "judge/plan_gaps.hpp"
#include "judge/prior_risk.hpp"
#include "judge/run_flags.hpp"
#include "judge/statistic.hpp"
#include "judge/supplied.hpp"

namespace ebbtide::judge {
namespace {

using plan::Conformity;

/// Of several outcomes that must all be met the gravest decides; of none nothing is known.
Conformity all_of(const std::vector<Conformity>& outcomes) {
    return outcomes.empty() ? Conformity::void_ : *std::ranges::max_element(outcomes, {}, plan::gravity);
}

/// Of alternatives: one pass suffices; a void may hide one.
Conformity any_of(const std::vector<Conformity>& outcomes) {
    for (const Conformity best :
         {Conformity::pass, Conformity::conditional_pass, Conformity::void_, Conformity::conditional_fail})
        if (std::ranges::find(outcomes, best) != outcomes.end()) return best;
    return outcomes.empty() ? Conformity::void_ : Conformity::fail;
}

bool has_flag(const JudgedRun& run, plan::FlagCode code) {
    return std::ranges::find(run.flags, code, &plan::Flag::code) != run.flags.end();
}

/// A place of the plan without a run that counts: nothing may be concluded as if it had been tested.
std::vector<std::string> open_places(const std::vector<JudgedRun>& runs) {
    std::set<plan::RunKey> filled;
    for (const JudgedRun& run : runs)
        if (run.counts) filled.insert(run.key);
    std::vector<std::string> open;
    std::set<plan::RunKey> named;
    for (const JudgedRun& run : runs) {
        // What a missing reference run leaves open is said by the runs that needed it.
        if (run.without_specimen || has_flag(run, plan::FlagCode::run_unplanned) ||
            filled.contains(run.key) || !named.insert(run.key).second)
            continue;
        const auto cause =
            std::ranges::find(run.flags, plan::Consequence::void_run, &plan::Flag::consequence);
        open.push_back(fmt::format(
            "{}: no run that counts ({})", run.key.label(),
            cause == run.flags.end() ? "not recorded" : plan::in_words(plan::facts(cause->code).name)));
    }
    return open;
}

/// Shown failures first, then what could not be told, then what only a doubt remains of; the order of the
/// requirements within each. What an alternative of a demand did not show is no reason once another met it.
std::vector<std::string> reasons_for(const std::vector<RequirementOutcome>& requirements,
                                     const std::set<std::string>& met) {
    std::vector<std::pair<Conformity, std::string>> reasons;
    for (const RequirementOutcome& outcome : requirements) {
        if (met.contains(outcome.demand)) continue;
        for (const Finding& finding : outcome.findings)
            if (finding.outcome != Conformity::pass)
                reasons.emplace_back(finding.outcome, fmt::format("{}: {}: {}", outcome.requirement.id,
                                                                  finding.group, finding.reason));
        if (outcome.findings.empty())
            reasons.emplace_back(Conformity::void_, fmt::format("{}: no run counts", outcome.requirement.id));
    }
    std::ranges::stable_sort(reasons, std::greater{},
                             [](const auto& reason) { return plan::gravity(reason.first); });
    std::vector<std::string> texts;
    for (auto& reason : reasons) texts.push_back(std::move(reason.second));
    return texts;
}

/// A history that no requirement takes up was meant for something.
std::vector<std::string> unused_histories(const std::vector<RequirementOutcome>& requirements,
                                          const plan::DecisionRule& rule) {
    std::vector<std::string> texts;
    for (const plan::History& history : rule.history)
        if (std::ranges::none_of(requirements, [&](const RequirementOutcome& outcome) {
                return outcome.requirement.id == history.requirement && outcome.prior_risk;
            }))
            texts.push_back(
                fmt::format("The history that the order gives for '{}' was not used: the specification has "
                            "no such requirement, or no decay time was measured for it.",
                            history.requirement));
    return texts;
}

std::vector<std::string> cautions_for(const std::vector<JudgedRun>& runs, Conformity statement) {
    std::set<std::string> specimens;
    for (const JudgedRun& run : runs)
        if (run.counts) specimens.insert(run.key.specimen);
    std::vector<std::string> cautions;
    const double n = static_cast<double>(specimens.size());
    if ((statement == Conformity::pass || statement == Conformity::conditional_pass) && n >= 1) {
        // No failure in n: the upper 95 % bound of the failing share is 1 - 0.05^(1/n) (Clopper-Pearson).
        const double share = 100 * (1 - std::pow(0.05, 1 / n));
        cautions.push_back(fmt::format(
            "The statement covers the specimens tested. If specimens were drawn at random, {} of {} passing "
            "would still allow {} % of the lot to fail, at 95 % confidence.",
            specimens.size(), specimens.size(), fixed_text(share, 0)));
    }
    return cautions;
}

/// Whether a time beyond its record entered a result.
bool rests_on_extrapolation(const std::vector<RequirementOutcome>& requirements,
                            const std::vector<JudgedRun>& runs) {
    const auto extrapolated = [&](const plan::Requirement& requirement, std::size_t run) {
        const decay::LevelFigure* figure = figure_at(runs[run], requirement.level);
        return figure && figure->decay_s && figure->status == decay::LevelStatus::extrapolated;
    };
    for (const RequirementOutcome& outcome : requirements)
        for (const Finding& finding : outcome.findings)
            for (const std::size_t run : finding.runs)
                if (extrapolated(outcome.requirement, run)) return true;
    return false;
}

std::string reason_of_pass(const std::vector<RequirementOutcome>& requirements) {
    std::string met;
    for (const RequirementOutcome& outcome : requirements)
        if (outcome.outcome == Conformity::pass) met += (met.empty() ? "" : ", ") + outcome.requirement.id;
    const bool all = std::ranges::all_of(
        requirements, [](const RequirementOutcome& outcome) { return outcome.outcome == Conformity::pass; });
    return all ? "every requirement is met by every run or mean that it is asked of"
               : fmt::format("of alternatives one that is met is enough; met are: {}", met);
}

std::vector<Finding> findings_of(const plan::Requirement& requirement, const plan::Order& order,
                                 const std::vector<JudgedRun>& runs) {
    if (requirement.supplied) return supplied_findings(requirement, order, runs);
    std::vector<Finding> findings;
    for (const Group& group : groups_of(runs, order, requirement))
        findings.push_back(finding_for(group, runs, requirement, order.decision_rule));
    return findings;
}

}  // namespace

Judgement judge(std::vector<JudgedRun> runs, const plan::Order& order, const plan::Method& method,
                const plan::Specification& specification) {
    Judgement judgement;
    for (JudgedRun& run : runs) settle(run, method);
    judgement.runs = std::move(runs);

    std::vector<Conformity> demands;
    std::set<std::string> met;
    for (const plan::Demand& demand : specification.demands) {
        std::vector<Conformity> alternatives;
        for (const plan::Requirement& requirement : demand.any_of) {
            RequirementOutcome outcome;
            outcome.demand = demand.id;
            outcome.requirement = requirement;
            outcome.findings = findings_of(requirement, order, judgement.runs);
            std::vector<Conformity> findings;
            for (const Finding& finding : outcome.findings) findings.push_back(finding.outcome);
            outcome.outcome = all_of(findings);
            outcome.prior_risk = prior_risk_of(outcome, order.decision_rule);
            alternatives.push_back(outcome.outcome);
            judgement.requirements.push_back(std::move(outcome));
        }
        demands.push_back(any_of(alternatives));
        if (demands.back() == Conformity::pass) met.insert(demand.id);
    }

    std::vector<std::string> open = open_places(judgement.runs);
    for (std::string& gap : plan_gaps(judgement.runs, order, method)) open.push_back(std::move(gap));
    judgement.statement = all_of(demands);
    // A shown failure stands whatever is missing; a pass needs the whole plan.
    if (!open.empty() && judgement.statement != Conformity::fail) judgement.statement = Conformity::void_;

    judgement.reasons = reasons_for(judgement.requirements, met);
    judgement.reasons.insert(judgement.reasons.end(), open.begin(), open.end());
    if (judgement.reasons.empty() && judgement.statement == Conformity::pass)
        judgement.reasons.push_back(reason_of_pass(judgement.requirements));
    judgement.cautions = cautions_for(judgement.runs, judgement.statement);
    if (rests_on_extrapolation(judgement.requirements, judgement.runs))
        judgement.cautions.push_back(
            "Results rest on decay times that lie beyond their records: there only the laws that fit the "
            "record "
            "speak. The method allows such times; a longer record would measure them.");
    for (std::string& unused : unused_histories(judgement.requirements, order.decision_rule))
        judgement.cautions.push_back(std::move(unused));
    return judgement;
}

}  // namespace ebbtide::judge
