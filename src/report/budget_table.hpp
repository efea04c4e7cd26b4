#pragma once
// A budget as a table: each source, what it does, how far it is shared, and what would lessen it.

#include <span>

#include "decay/budget.hpp"
#include "report/document.hpp"

namespace ebbtide::report {

/// Largest lines first; every contribution with the places that give three digits of the sum.
[[nodiscard]] Table budget_table(std::span<const decay::Contribution> budget);

}  // namespace ebbtide::report
