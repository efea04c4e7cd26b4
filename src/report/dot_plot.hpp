#pragma once
// All decay times to one level against the limits on it.

#include <vector>

#include "judge/judgement.hpp"
#include "plan/order.hpp"
#include "report/picture.hpp"

namespace ebbtide::report {

/// One row a specimen, grouped by direction and state; below them the means that the requirements ask for.
/// Filled dots are measured times, open dots with an arrow are bounds (the arrow points to what is unknown),
/// crosses are runs that do not count, a short bar is the mean of a specimen's counting runs when all were
/// measured; a hatch around a limit is the guard band of what stands in the row. Long orders make several
/// pictures. Empty when there is nothing to draw.
[[nodiscard]] std::vector<Picture> dot_plots(const judge::Judgement& judgement, const plan::Order& order,
                                             const plan::Level& level, double width);

}  // namespace ebbtide::report
