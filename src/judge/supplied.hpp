#pragma once
// A requirement on a quantity that another test gave: supplied with the order, not measured here.

#include <span>
#include <vector>

#include "judge/judgement.hpp"

namespace ebbtide::judge {

/// One finding for each supplied result of the quantity. Where results are supplied for single specimens,
/// every specimen with a run in the plan needs one, unless one is supplied for the items as a whole; what is
/// missing is a void finding that says what to supply.
///
/// The value is compared with the limit as it is or, where the order's rule is guarded, with a guard band of
/// guard_times_U times U, U = 1.96 u; a width agreed in seconds says nothing here. Probabilities of wrong
/// decisions: normal (JCGM 106:2012, 7.2).
[[nodiscard]] std::vector<Finding> supplied_findings(const plan::Requirement& requirement,
                                                     const plan::Order& order,
                                                     std::span<const JudgedRun> runs);

}  // namespace ebbtide::judge
