#pragma once
// Results of other tests, [[supplied]] of an order.

#include <vector>

#include "paperwork/table_reader.hpp"
#include "plan/order.hpp"

namespace ebbtide::paperwork {

/// `specimens` are those of the order: a result of one that it does not hold is a problem, and so is a second
/// result of the same quantity for the same specimen.
[[nodiscard]] std::vector<plan::SuppliedResult> supplied_results(
    TableReader& top, const std::vector<plan::Specimen>& specimens);

}  // namespace ebbtide::paperwork
