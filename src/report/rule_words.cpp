#include "report/rule_words.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "basis/number_text.hpp"
#include "judge/decide.hpp"
#include "judge/risk.hpp"
#include "report/words.hpp"

namespace ebbtide::report {
namespace {

/// How w is agreed: "w = U, the result's own expanded uncertainty (95 %)", "w = 0.02 s".
std::string width_in_words(const plan::DecisionRule& rule) {
    if (rule.guard_s) return fmt::format("w = {} s", shortest_text(*rule.guard_s));
    const std::string times = rule.guard_times_U == 1 ? "" : shortest_text(rule.guard_times_U) + " times ";
    return fmt::format("w = {}U, {}the result's own expanded uncertainty (95 %)",
                       rule.guard_times_U == 1 ? "" : shortest_text(rule.guard_times_U) + " ", times);
}

/// The largest probability of a wrong acceptance that a result passed by the rule could have had, with the
/// uncertainty of any of the results; absent when no result has one.
std::optional<double> largest_risk(const record::OrderRecord& record) {
    std::optional<double> largest;
    for (const judge::RequirementOutcome& outcome : record.judgement.requirements)
        for (const judge::Finding& finding : outcome.findings) {
            if (finding.bound != judge::BoundKind::value || !finding.u_s || !(*finding.u_s > 0) ||
                !finding.guard_s)
                continue;
            // A value at the guarded limit: only its distance from the limit matters.
            const double risk = judge::probability_beyond(
                {-*finding.guard_s, *finding.u_s, finding.degrees_of_freedom}, {{}, 0.0});
            largest = std::max(largest.value_or(0), risk);
        }
    return largest;
}

std::string at_most(double probability) {
    return probability < 0.001 ? "less than 0.1 %" : "at most " + percent_text(probability);
}

std::string agreement(const plan::DecisionRule& rule) {
    return rule.agreed.empty() ? "Who agreed to the rule is not stated." : "Agreed: " + rule.agreed + ".";
}

}  // namespace

std::string rule_in_short(const record::OrderRecord& record) {
    const plan::DecisionRule& rule = record.order.decision_rule;
    if (rule.kind == plan::DecisionRule::Kind::simple)
        return "Decision rule: simple acceptance. A result conforms when it lies within its limit; its "
               "uncertainty is "
               "stated beside it and does not move the limit. At the limit itself the chance of a wrong "
               "acceptance is "
               "up to 50 % (ILAC-G8:09/2019).";
    std::string text = fmt::format(
        "Decision rule: guarded acceptance with a guard band w on either side of the limit, {} "
        "(ILAC-G8:09/2019). Pass: "
        "within the limit by w or more. Conditional pass: within the limit, by less than w. Conditional "
        "fail: beyond "
        "the limit, by less than w. Fail: beyond it by w or more.",
        width_in_words(rule));
    if (const auto risk = largest_risk(record))
        text += fmt::format(" The chance that a result which passed is in truth over its limit is {}.",
                            at_most(*risk));
    return text;
}

std::string rule_in_full(const record::OrderRecord& record) {
    const plan::DecisionRule& rule = record.order.decision_rule;
    if (rule.kind == plan::DecisionRule::Kind::simple)
        return "Decision rule and its risk. Simple acceptance: each result is compared with its limit as it "
               "stands. "
               "For a result just within the limit the true value may lie beyond it with a probability of up "
               "to 50 % "
               "(ILAC-G8:09/2019, simple acceptance with guard band zero); “wrong acceptance” above is that "
               "probability for each accepted result, “wrong rejection” the probability that the true value "
               "of one "
               "that was not accepted lies within, both from its own uncertainty (JCGM 106:2012, 7.2). " +
               agreement(rule);
    std::string text = fmt::format(
        "Decision rule and its risk. Guarded acceptance, statements that are not binary (ILAC-G8:09/2019), "
        "{}. ",
        width_in_words(rule));
    if (const auto risk = largest_risk(record))
        text += fmt::format(
            "Level of risk: with the uncertainties of these results, one that passes exactly at the guarded "
            "limit has a "
            "probability of wrong acceptance of {}; one farther inside has less. ",
            probability_text(*risk));
    text +=
        "“wrong acceptance” above is the probability that the true value of a result that passed, "
        "conditionally or "
        "not, is over the limit; “wrong rejection” that the true value of one that did not is within it; "
        "both from "
        "the result's own uncertainty and its degrees of freedom (JCGM 106:2012, 7.2; JCGM 101:2008, "
        "6.4.9.2). A "
        "bound (a level not reached, a fall below resolution) is proven and has no U; ";
    text += rule.guard_s ? "the guard band in seconds is asked of it as of any other result. "
                         : "it is compared with the limit itself. ";
    return text + agreement(rule);
}

std::vector<std::string> risks_before_the_test(const judge::Judgement& judgement) {
    std::vector<std::string> sentences;
    for (const judge::RequirementOutcome& outcome : judgement.requirements) {
        if (!outcome.prior_risk) continue;
        const judge::PriorRisk& risk = *outcome.prior_risk;
        sentences.push_back(fmt::format(
            "{}: for material whose decay times average {} s with a standard deviation of {} s ({}), "
            "measured "
            "with u = {} s and w = {} s, the rule passes {} of all results although the true value is over "
            "the limit "
            "(consumer's risk) and does not pass {} although it is within (producer's risk).",
            outcome.requirement.id, shortest_text(risk.history.mean_s),
            shortest_text(risk.history.standard_deviation_s), risk.history.source,
            significant_text(risk.u_s, 2), risk.guard_s > 0 ? significant_text(risk.guard_s, 2) : "0",
            probability_text(risk.consumer), probability_text(risk.producer)));
    }
    return sentences;
}

std::string risk_text(const judge::Finding& finding) {
    if (finding.wrong_acceptance)
        return probability_text(*finding.wrong_acceptance) + "\nof wrong acceptance";
    if (finding.wrong_rejection) return probability_text(*finding.wrong_rejection) + "\nof wrong rejection";
    return "";
}

}  // namespace ebbtide::report
