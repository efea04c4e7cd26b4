#pragma once
// A budget as a table: each source, what it does, how far it is shared, and what would lessen it.

#include <span>
#include <string>
#include <string_view>

#include "decay/budget.hpp"
#include "report/document.hpp"

namespace ebbtide::report {

/// Largest lines first; every contribution with the places that give three digits of the sum.
[[nodiscard]] Table budget_table(std::span<const decay::Contribution> budget);

/// One line on what a source means and what would lessen it, by the words of its name; may be empty.
[[nodiscard]] std::string_view explanation_of(const std::string& source);

}  // namespace ebbtide::report
