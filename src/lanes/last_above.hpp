#pragma once
// Searching long stretches of samples at the speed of memory.

#include <cstddef>
#include <optional>
#include <span>

namespace ebbtide::lanes {

/// Index of the last value that is greater than `threshold`; nothing when none is. All values finite, any
/// length, any alignment. The answer is the same on every processor.
[[nodiscard]] std::optional<std::size_t> last_above(std::span<const double> values, double threshold);

/// The same for several thresholds, in any order, in one pass over the values. `found` has the size of
/// `thresholds`.
void last_above(std::span<const double> values, std::span<const double> thresholds,
                std::span<std::optional<std::size_t>> found);

}  // namespace ebbtide::lanes
