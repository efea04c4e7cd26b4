#pragma once
// What this program runs on, as the operating system says.

#include "basis/instant.hpp"
#include "validation/validation.hpp"

namespace ebbtide::work {

[[nodiscard]] validation::Computer this_computer();

/// By this computer's clock.
[[nodiscard]] Instant time_now();

}  // namespace ebbtide::work
