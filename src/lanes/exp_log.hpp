#pragma once
// Exponentials and logarithms of many numbers at the speed of the processor's vectors.

#include <span>

namespace ebbtide::lanes {

/// out[i] = e^numbers[i], within 2 units in the last place. Numbers below -700 give 0 (no subnormals are
/// made), numbers above 709 infinity; NaN stays NaN. `out` has the size of `numbers` and may be the same
/// memory; any length, any alignment. A number's result does not depend on its neighbours; processors with
/// and without fused multiply-add differ by the last place.
void exp_all(std::span<const double> numbers, std::span<double> out);

/// out[i] = ln numbers[i], within 2 units in the last place (near 1: of the larger of |result| and 1e-16).
/// Zero and subnormals give minus infinity, what is below zero NaN; infinity and NaN stay. Otherwise as
/// exp_all.
void log_all(std::span<const double> numbers, std::span<double> out);

}  // namespace ebbtide::lanes
