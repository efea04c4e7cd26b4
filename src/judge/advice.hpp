#pragma once
// What would help a conditional result: which source of its uncertainty, halved, settles it, and what else.

#include <string>
#include <vector>

#include "judge/judgement.hpp"
#include "plan/decision_rule.hpp"

namespace ebbtide::judge {

/// Sets Finding::advice and Finding::relief from its outcome, value and budget. Every other outcome, and a
/// bound, gets neither. A conditional pass can become a pass, a conditional fail only a clear fail: the value
/// stays as it is. A guard band agreed in seconds does not narrow with U, so nothing here settles it.
void advise(Finding& finding, const plan::Requirement& requirement, const plan::DecisionRule& rule);

/// The conditional finding that asks for the smallest part of its U; null when none is conditional. What
/// settles it mostly settles the others.
[[nodiscard]] const Finding* hardest_conditional(const RequirementOutcome& outcome);

/// "Halving the uncertainty of relative humidity (now 0.80 % RH) would bring U to 0.021 s and make this a
/// pass.", most helpful first; empty unless the finding is conditional.
[[nodiscard]] std::vector<std::string> advice_in_words(const Finding& finding,
                                                       const plan::Requirement& requirement,
                                                       const plan::DecisionRule& rule);

}  // namespace ebbtide::judge
