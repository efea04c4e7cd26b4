#pragma once
// The lowest of all valleys, for any law on any points.

#include <vector>

#include "fit/descent.hpp"
#include "fit/starts.hpp"

namespace ebbtide::fit {

struct Search {
    Descent best;               ///< on all points; singular when no start was usable
    std::vector<double> start;  ///< log shape parameters from which it was descended
    int valleys = 0;            ///< descended
};

/// Valleys of the block means, descended there; the best of them descended on all points.
[[nodiscard]] Search search(const Problem& problem, const SearchRange& range);

/// Time constants that are alike in ascending order; the amplitudes follow.
void put_in_order(const Problem& problem, Descent& descent, const Bounds& bounds);

}  // namespace ebbtide::fit
