#pragma once
// Residuals of a fit for the terminal: braille dots over time.

#include <string>

#include "decay/law_figures.hpp"

namespace ebbtide::cli {

/// Block means of the residuals in units of their own noise, against time, with the 95 % band at +-2; 80
/// columns, lines ended, no colour. Empty without residuals.
[[nodiscard]] std::string residual_strip(const decay::LawFigures& law);

}  // namespace ebbtide::cli
