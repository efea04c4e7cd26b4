#include "judge/decide.hpp"

#include <fmt/format.h>

#include <cmath>

#include "basis/number_text.hpp"

namespace ebbtide::judge {
namespace {

using plan::Comparison;
using plan::Conformity;

bool limited_from_above(Comparison comparison) {
    return comparison == Comparison::less || comparison == Comparison::less_or_equal;
}

/// The limit, moved by `by` into what conforms; a negative `by` moves it out.
double moved(double limit, Comparison comparison, double by) {
    return limited_from_above(comparison) ? limit - by : limit + by;
}

std::string chance_text(double probability) {
    return probability < 0.001 ? "less than 0.1 %" : fixed_text(100 * probability, 1) + " %";
}

std::string width_text(double guard_s, const plan::DecisionRule& rule) {
    return rule.guard_s ? shortest_text(guard_s) : significant_text(guard_s, 2);
}

std::string value_reason(const Finding& finding, const std::string& limit, const plan::DecisionRule& rule) {
    const bool met = finding.outcome == Conformity::pass || finding.outcome == Conformity::conditional_pass;
    std::string reason = fmt::format("{} {} {}", plus_minus_text(*finding.value_s, finding.expanded_u_s, "s"),
                                     met ? "meets" : "does not meet", limit);
    if (!finding.guard_s || !(*finding.guard_s > 0)) return reason;
    const std::string band = fmt::format("the guard band of {} s", width_text(*finding.guard_s, rule));
    switch (finding.outcome) {
        case Conformity::pass:
            reason += " by at least w";
            break;
        case Conformity::conditional_pass:
            reason += " but lies inside " + band;
            if (finding.wrong_acceptance)
                reason += fmt::format(": the true value may exceed the limit with a probability of {}",
                                      chance_text(*finding.wrong_acceptance));
            break;
        case Conformity::conditional_fail:
            reason += " but lies beyond it by less than " + band;
            if (finding.wrong_rejection)
                reason += fmt::format(": the true value may be within the limit with a probability of {}",
                                      chance_text(*finding.wrong_rejection));
            break;
        case Conformity::fail:
            reason += ", by at least w";
            break;
        case Conformity::void_:
            break;
    }
    return reason;
}

void decide_value(Finding& finding, const plan::Requirement& requirement, const plan::DecisionRule& rule,
                  const std::string& limit) {
    const std::optional<double> guard = guard_width(rule, finding.expanded_u_s);
    if (!guard) {
        finding.outcome = Conformity::void_;
        finding.reason = fmt::format(
            "{} s against {}: no uncertainty of it is known, and the agreed guard band is {} U; without U "
            "the rule "
            "cannot be applied",
            significant_text(*finding.value_s, 4), limit, shortest_text(rule.guard_times_U));
        return;
    }
    if (rule.kind == plan::DecisionRule::Kind::guarded) finding.guard_s = guard;
    finding.outcome = outcome_at(*finding.value_s, *guard, requirement.comparison, requirement.limit_s);
    if (finding.u_s && *finding.u_s > 0) {
        const Estimate estimate{*finding.value_s, *finding.u_s, finding.degrees_of_freedom};
        const Limits conforming = limits_of(requirement.comparison, requirement.limit_s);
        if (finding.outcome == Conformity::pass || finding.outcome == Conformity::conditional_pass)
            finding.wrong_acceptance = probability_beyond(estimate, conforming);
        else
            finding.wrong_rejection = probability_within(estimate, conforming);
    }
    finding.reason = value_reason(finding, limit, rule);
    if (finding.outcome == Conformity::conditional_pass && *guard >= requirement.limit_s)
        finding.reason += "; the guard band is as wide as the limit, so that no result could pass";
}

void decide_upper_bound(Finding& finding, const plan::Requirement& requirement,
                        const plan::DecisionRule& rule, const std::string& limit) {
    const double bound_s = *finding.value_s;
    const std::string shorter = fmt::format("shorter than {} s", significant_text(bound_s, 3));
    if (!meets(bound_s, requirement.comparison, requirement.limit_s)) {
        finding.outcome = Conformity::void_;
        finding.reason = fmt::format("{}: the bench does not resolve whether {} is met", shorter, limit);
        return;
    }
    finding.outcome = Conformity::pass;
    finding.reason = fmt::format("{}, which meets {}", shorter, limit);
    if (rule.kind == plan::DecisionRule::Kind::simple || !rule.guard_s) return;
    finding.guard_s = rule.guard_s;
    if (meets(bound_s, requirement.comparison,
              moved(requirement.limit_s, requirement.comparison, *rule.guard_s)))
        return;
    finding.outcome = Conformity::conditional_pass;
    finding.reason += fmt::format(
        ", but the bench does not resolve whether it does so with the guard band of {} s to spare",
        shortest_text(*rule.guard_s));
}

void decide_lower_bound(Finding& finding, const plan::Requirement& requirement,
                        const plan::DecisionRule& rule, const std::string& limit) {
    const double bound_s = *finding.value_s;
    const std::string longer = fmt::format("longer than {} s", significant_text(bound_s, 3));
    if (meets(bound_s, requirement.comparison, requirement.limit_s)) {
        finding.outcome = Conformity::void_;
        finding.reason = fmt::format("{}: the record is too short to tell whether {} is met", longer, limit);
        return;
    }
    finding.outcome = Conformity::fail;
    finding.reason = fmt::format("{}, which does not meet {}", longer, limit);
    if (rule.kind == plan::DecisionRule::Kind::simple || !rule.guard_s) return;
    finding.guard_s = rule.guard_s;
    if (!meets(bound_s, requirement.comparison,
               moved(requirement.limit_s, requirement.comparison, -*rule.guard_s)))
        return;
    finding.outcome = Conformity::conditional_fail;
    finding.reason +=
        fmt::format(", but the record is too short to tell whether it is longer by the guard band of {} s",
                    shortest_text(*rule.guard_s));
}

/// The best class, and which class limits the uncertainty spans, so that the class may be another one.
void set_grade(Finding& finding, const plan::Requirement& requirement) {
    if (requirement.grades.empty() || !finding.value_s) return;
    if (finding.bound == BoundKind::at_least || finding.outcome == Conformity::void_) return;
    const double guard_s = finding.guard_s.value_or(0);
    for (const plan::Grade& grade : requirement.grades)
        if (meets(*finding.value_s, requirement.comparison,
                  moved(grade.limit_s, requirement.comparison, guard_s))) {
            finding.grade = grade.name;
            finding.reason += fmt::format("; class {}", grade.name);
            break;
        }
    if (finding.bound != BoundKind::value || !finding.expanded_u_s) return;
    for (const plan::Grade& grade : requirement.grades)
        if (std::abs(*finding.value_s - grade.limit_s) < *finding.expanded_u_s)
            finding.reason += fmt::format("; its uncertainty spans the limit of class {}, {} s", grade.name,
                                          shortest_text(grade.limit_s));
}

}  // namespace

bool meets(double value, Comparison comparison, double limit) {
    switch (comparison) {
        case Comparison::less:
            return value < limit;
        case Comparison::less_or_equal:
            return value <= limit;
        case Comparison::greater:
            return value > limit;
        case Comparison::greater_or_equal:
            return value >= limit;
    }
    return false;
}

Limits limits_of(Comparison comparison, double limit) {
    return limited_from_above(comparison) ? Limits{{}, limit} : Limits{limit, {}};
}

std::optional<double> guard_width(const plan::DecisionRule& rule, std::optional<double> expanded_u) {
    if (rule.kind == plan::DecisionRule::Kind::simple) return 0;
    if (rule.guard_s) return rule.guard_s;
    if (rule.guard_times_U == 0) return 0;
    if (!expanded_u || !(*expanded_u > 0)) return {};
    return rule.guard_times_U * *expanded_u;
}

Conformity outcome_at(double value, double guard, Comparison comparison, double limit) {
    if (meets(value, comparison, moved(limit, comparison, guard))) return Conformity::pass;
    if (meets(value, comparison, limit)) return Conformity::conditional_pass;
    if (meets(value, comparison, moved(limit, comparison, -guard))) return Conformity::conditional_fail;
    return Conformity::fail;
}

Conformity outcome_for(double value_s, double expanded_u_s, const plan::Requirement& requirement,
                       const plan::DecisionRule& rule) {
    const auto guard = guard_width(rule, expanded_u_s);
    return guard ? outcome_at(value_s, *guard, requirement.comparison, requirement.limit_s)
                 : Conformity::void_;
}

void decide(Finding& finding, const plan::Requirement& requirement, const plan::DecisionRule& rule) {
    const std::string limit =
        fmt::format("{} {} s", plan::symbol_of(requirement.comparison), shortest_text(requirement.limit_s));
    switch (finding.bound) {
        case BoundKind::value:
            decide_value(finding, requirement, rule, limit);
            break;
        case BoundKind::at_most:
            decide_upper_bound(finding, requirement, rule, limit);
            break;
        case BoundKind::at_least:
            decide_lower_bound(finding, requirement, rule, limit);
            break;
        case BoundKind::none:
            finding.outcome = Conformity::void_;
            return;
    }
    set_grade(finding, requirement);
}

}  // namespace ebbtide::judge
