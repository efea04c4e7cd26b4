#pragma once
// The rows of the dot plot: which runs and means stand on which line.

#include <optional>
#include <string>
#include <vector>

#include "judge/judgement.hpp"
#include "plan/order.hpp"

namespace ebbtide::report {

/// Where a result is conditional: from limit - width to limit + width.
struct GuardBand {
    double limit_s = 0;
    double width_s = 0;
};

struct DotRow {
    std::string label;
    bool group_head = false;  ///< a heading only
    std::vector<const judge::JudgedRun*>
        runs;                              ///< of one specimen, and one face and conditions where they differ
    const judge::Finding* mean = nullptr;  ///< a mean that a requirement asks for, instead of runs
    std::vector<GuardBand> guards = {};    ///< of what stands in the row; the widest at each limit
    std::optional<double> lot_bound_s = {};  ///< a bound for a share of the lot, instead of runs
};

/// Specimens grouped by direction and state, in the order in which the runs name them; then the means. The
/// rows point into the judgement.
[[nodiscard]] std::vector<DotRow> dot_rows(const judge::Judgement& judgement, const plan::Order& order,
                                           const plan::Level& level);

/// The figure of a run at a level; null when there is none.
[[nodiscard]] const decay::LevelFigure* figure_at(const judge::JudgedRun& run, const plan::Level& level);
/// Where a figure stands on the axis: the decay time, or the bound on it.
[[nodiscard]] std::optional<double> place_of(const decay::LevelFigure& figure);
/// Limits of the requirements on the level, ascending, each once.
[[nodiscard]] std::vector<double> limits_on(const judge::Judgement& judgement, const plan::Level& level);

}  // namespace ebbtide::report
