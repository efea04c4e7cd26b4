#pragma once
// A whole order in memory whose figures are known before it is judged: from the bytes of a recording to the
// statement of conformity, by the same code as any order.

#include <vector>

#include "validation/check.hpp"

namespace ebbtide::work {

[[nodiscard]] std::vector<validation::Check> order_checks();

}  // namespace ebbtide::work
