#pragma once
// The fall on either side of a crossing, as the smoothing that found the crossing sees it.

#include "decay/crossing.hpp"
#include "decay/monte_carlo_time.hpp"

namespace ebbtide::decay {

/// When `fall` passes levels up to reach_V beside level_V, as far as the record from usable_from_s on goes;
/// some 33 points and more, closest near the crossing. Times are less shift_s.
///
/// Parabolas through stretches as long as that of the crossing, over block means where there are many
/// samples; where noise would make the curve turn back, neighbours are averaged until it falls. The curve
/// leaves the crossing with the crossing's own slope, and bends as an exponential of that slope would unless
/// the samples say otherwise more clearly than their noise. Empty when reach_V is not above 0.
[[nodiscard]] LocalFall local_fall_of(const trace::Samples& fall, const Crossing& crossing, double level_V,
                                      double reach_V, double usable_from_s, double shift_s);

}  // namespace ebbtide::decay
