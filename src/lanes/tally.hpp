#pragma once
// One pass over values as they are drawn: their moments, and those that lie at or beyond two bounds.

#include <array>
#include <span>

namespace ebbtide::lanes {

struct Tally {
    double shift = 0;  ///< near the values, so that their squares keep their digits
    double low = 0;    ///< bounds: what lies at or below `low` or at or above `high` is kept
    double high = 0;
    /// Of value - shift and of its square; part k of values k, k + 4, k + 8... of each call.
    std::array<double, 4> sum = {}, squares = {};
    /// Where the next value goes that is kept. Four places more than are needed must be there.
    double* kept = nullptr;
};

/// Goes on with a tally. The same sums to the last bit on every processor, and the same values kept, in no
/// order. What is not a number is not kept, and makes the sums so too.
void count_in(std::span<const double> values, Tally& tally);

}  // namespace ebbtide::lanes
