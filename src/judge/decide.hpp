#pragma once
// A result, a limit and a decision rule: the outcome, and why in words.

#include <optional>

#include "judge/judgement.hpp"
#include "judge/risk.hpp"
#include "plan/decision_rule.hpp"

namespace ebbtide::judge {

/// Whether a value meets a limit, the strictness of < and > included.
[[nodiscard]] bool meets(double value, plan::Comparison comparison, double limit);

/// What conforms under a comparison: at most, or at least, the limit.
[[nodiscard]] Limits limits_of(plan::Comparison comparison, double limit);

/// Width w of the guard band, in the unit of the result: 0 under the simple rule; so many times U, or as
/// agreed in seconds. Absent when the rule takes it from U (more than 0 times) and U is unknown or 0: a
/// result without uncertainty is never guarded by a band of no width.
[[nodiscard]] std::optional<double> guard_width(const plan::DecisionRule& rule,
                                                std::optional<double> expanded_u);

/// The outcome for a value, by the words of ILAC-G8:09/2019 for statements that are not binary: pass when the
/// value meets the limit with `guard` (>= 0) to spare, conditional pass up to the limit, conditional fail up
/// to `guard` beyond it, fail farther out. The comparison is as strict at the guarded limits as at the limit,
/// so that a band of no width gives pass and fail only.
[[nodiscard]] plan::Conformity outcome_at(double value, double guard, plan::Comparison comparison,
                                          double limit);

/// The same for a decay time with expanded uncertainty `expanded_u_s` (95 %) under a rule; void when the rule
/// takes the guard band from U and U is 0. What a smaller U would do to an outcome is asked here.
[[nodiscard]] plan::Conformity outcome_for(double value_s, double expanded_u_s,
                                           const plan::Requirement& requirement,
                                           const plan::DecisionRule& rule);

/// Sets outcome, reason, guard_s, wrong_acceptance, wrong_rejection and grade from bound, value_s, u_s,
/// expanded_u_s and degrees_of_freedom; a finding without a bound (BoundKind::none) stays void for the reason
/// that it carries.
///
/// Bounds are proven statements about the true value, not values with a U. So a rule that takes w from U
/// leaves them as they stand: an upper bound under the limit passes, a lower bound beyond it fails. Where w
/// is agreed in seconds it holds for them as well: an upper bound passes when it is w inside the limit, and
/// passes conditionally up to the limit (the value itself may lie anywhere below); a lower bound fails when
/// it is w beyond the limit, and fails conditionally from the limit on. An upper bound never fails, a lower
/// bound never passes: what they leave open is void.
void decide(Finding& finding, const plan::Requirement& requirement, const plan::DecisionRule& rule);

}  // namespace ebbtide::judge
