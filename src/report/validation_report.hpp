#pragma once
// The report on a validation: what was checked, against what, on which computer.

#include "report/document.hpp"
#include "report/report.hpp"
#include "validation/validation.hpp"

namespace ebbtide::report {

[[nodiscard]] Document compose(const validation::Validation& validation);

/// As to_html and to_pdf of an order; `json` is attached to the PDF as validation.json.
[[nodiscard]] std::string to_html(const validation::Validation& validation);
[[nodiscard]] Result<std::string> to_pdf(const validation::Validation& validation, const std::string& json,
                                         Paper paper = Paper::a4);

}  // namespace ebbtide::report
