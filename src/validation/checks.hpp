#pragma once
// The lists of checks, a subject each. A list is made anew at each call and runs nothing.

#include <vector>

#include "validation/check.hpp"

namespace ebbtide::validation {

/// Decay times, release, sensor lag, prompt drop of falls that are known in closed form.
[[nodiscard]] std::vector<Check> decay_checks();
/// Hanging sheets against other models of the same fixture.
[[nodiscard]] std::vector<Check> sheet_checks();
/// Laws and their errors: certified fits.
[[nodiscard]] std::vector<Check> fit_checks();
/// Budgets, and the same by drawing.
[[nodiscard]] std::vector<Check> uncertainty_checks();
/// The chance of a wrong decision.
[[nodiscard]] std::vector<Check> decision_checks();
/// Hashes, random numbers, numbers as text.
[[nodiscard]] std::vector<Check> arithmetic_checks();

}  // namespace ebbtide::validation
