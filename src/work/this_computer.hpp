#pragma once
// What this program runs on, as the operating system says.

#include "validation/validation.hpp"

namespace ebbtide::work {

[[nodiscard]] validation::Computer this_computer();

}  // namespace ebbtide::work
