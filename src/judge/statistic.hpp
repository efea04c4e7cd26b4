#pragma once
// A requirement's statistic over a group of runs, with bounds where runs are bounds.

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "judge/judgement.hpp"

namespace ebbtide::judge {

/// The figure of a run to the level that a requirement names; null when its method did not ask for that
/// level.
[[nodiscard]] const decay::LevelFigure* figure_at(const JudgedRun& run, const plan::Level& level);

/// Groups of counted runs, in the order in which they first appear. `each_run` gives one group a run.
struct Group {
    std::string label;
    std::vector<std::size_t> runs;
};
[[nodiscard]] std::vector<Group> groups_of(std::span<const JudgedRun> runs, const plan::Order& order,
                                           const plan::Requirement& requirement);

/// The requirement applied to one group: value or bound, uncertainty, outcome and why.
///
/// A run that did not reach the level is a lower bound and a run below resolution an upper one: a mean with a
/// lower bound in it can prove fail, never pass; with an upper one pass, never fail; neither is ever taken
/// for a number. What the value or the bound means under the rule is said by decide().
[[nodiscard]] Finding finding_for(const Group& group, std::span<const JudgedRun> runs,
                                  const plan::Requirement& requirement, const plan::DecisionRule& rule);

}  // namespace ebbtide::judge
