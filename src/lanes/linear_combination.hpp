#pragma once
// Sums of many vectors in one pass over memory.

#include <span>

namespace ebbtide::lanes {

/// out[i] = start[i] + sum over j of factors[j] * vectors[j][i], added in that order. As many vectors as
/// factors, each, like `start`, as large as `out`; an empty `start` is nothing. `out` may be any of them.
/// Processors with and without fused multiply-add differ by the last place.
void linear_combination(std::span<const double> start, std::span<const double> factors,
                        std::span<const double* const> vectors, std::span<double> out);

}  // namespace ebbtide::lanes
