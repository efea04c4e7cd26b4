#pragma once
// Numbers of recordings as text whose doubles are known to the last bit.

#include <vector>

#include "validation/check.hpp"

namespace ebbtide::work {

[[nodiscard]] std::vector<validation::Check> reading_checks();

}  // namespace ebbtide::work
