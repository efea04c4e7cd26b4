#pragma once
// What a decision rule risks before anything is measured, where the history of the material is known.

#include "judge/judgement.hpp"

namespace ebbtide::judge {

/// The global risks of a requirement under a rule, for the history that the rule gives of it: accepted is
/// what passes, everything else is not. The uncertainty is the median of those of the findings, the guard
/// band the one that goes with it (u at 95 % as in the finding of that median). Absent when the rule gives no
/// history of the requirement or no finding has a value with an uncertainty.
[[nodiscard]] std::optional<PriorRisk> prior_risk_of(const RequirementOutcome& outcome,
                                                     const plan::DecisionRule& rule);

}  // namespace ebbtide::judge
