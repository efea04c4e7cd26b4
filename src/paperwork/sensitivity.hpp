#pragma once
// How steeply a material follows its surroundings, as methods and orders state it.

#include "paperwork/table_reader.hpp"
#include "plan/sensitivity.hpp"

namespace ebbtide::paperwork {

/// At least one of the two steepnesses, and where they come from.
[[nodiscard]] plan::Sensitivity read_sensitivity(TableReader table);

}  // namespace ebbtide::paperwork
