#pragma once
// Every decay time's budget carried through a second time, by Monte Carlo beside the slopes.

#include <string>
#include <vector>

#include "judge/judgement.hpp"

namespace ebbtide::judge {

/// Sets LevelFigure::monte_carlo of every measured level, and raises first_order_unfit where it disagrees
/// with the first-order interval. The budgets are taken as they stand: call it when they are whole. Seeds
/// come from the run's id and the level, so the same run gives the same numbers.
void add_monte_carlo(decay::Figures& figures, const std::string& run_id);

/// The same for all runs that were recorded; the flag is raised on the run too.
[[nodiscard]] std::vector<JudgedRun> with_monte_carlo(std::vector<JudgedRun> runs);

}  // namespace ebbtide::judge
