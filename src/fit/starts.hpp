#pragma once
// Starting values, found by the program: the sum of squares on a grid over the shape parameters, and its
// valleys.

#include <vector>

#include "fit/descent.hpp"

namespace ebbtide::fit {

/// Bounds and grid of every shape parameter, in logarithms of scaled units. Parameters with the unit of x are
/// sought from a fifth of the first interval between points to thirty times the largest |x|, and may end a
/// thousand times beyond. `held` values (unit of x as the caller has it) pin a parameter.
struct SearchRange {
    Bounds bounds;
    std::vector<std::vector<double>> grid;
};
[[nodiscard]] SearchRange search_range(const Problem& problem,
                                       const std::vector<std::optional<double>>& held);

/// Grid points lower than all their neighbours, lowest first, at most `most`; filled up to `least` with the
/// lowest points that are not next to one chosen already, since a narrow valley may hide between grid points.
/// Time constants that are alike are tried in ascending order only.
[[nodiscard]] std::vector<std::vector<double>> valleys(const Problem& points, const SearchRange& range,
                                                       std::size_t least, std::size_t most);

/// From the bottom of a valley: each parameter in turn over its grid, the others staying, and the valleys met
/// on the way. Of parts that are alike, one is left out, the others settle, and the place for it is sought
/// anew: a small part of the curve shows only when the large ones fit.
[[nodiscard]] std::vector<std::vector<double>> replacements(const Problem& points,
                                                            const std::vector<double>& log_theta,
                                                            const SearchRange& range, int most_evaluations);

/// Where two time constants have met, the sum of squares is level in the direction that parts them, whether
/// it has a minimum there or a saddle. These are starts with the pair pulled apart; none when no pair has
/// met.
[[nodiscard]] std::vector<std::vector<double>> splits(const Law& law, const std::vector<double>& log_theta,
                                                      const Bounds& bounds);

}  // namespace ebbtide::fit
