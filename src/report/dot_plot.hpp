#pragma once
// All decay times to one level against the limits on it.

#include <span>
#include <string>
#include <vector>

#include "judge/judgement.hpp"
#include "plan/order.hpp"
#include "report/picture.hpp"

namespace ebbtide::report {

/// What is said of a lot: a share of it takes at most so long.
struct LotBoundRow {
    std::string claim;  ///< "90 % of the lot, with 95 % confidence": rows with the same one stand together
    std::string lot;
    double upper_s = 0;
};

/// One row a specimen, grouped by direction and state; below them the means that the requirements ask for.
/// Filled dots are measured times, open dots with an arrow are bounds (the arrow points to what is unknown),
/// crosses are runs that do not count, a short bar is the mean of a specimen's counting runs when all were
/// measured; a hatch around a limit is the guard band of what stands in the row. Long orders make several
/// pictures. Empty when there is nothing to draw. Lowest of all, a diamond for each bound of a lot.
[[nodiscard]] std::vector<Picture> dot_plots(const judge::Judgement& judgement, const plan::Order& order,
                                             const plan::Level& level, double width,
                                             std::span<const LotBoundRow> bounds = {});

}  // namespace ebbtide::report
