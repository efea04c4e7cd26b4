#pragma once
// The document as PDF pages.

#include <string>

#include "basis/result.hpp"
#include "report/document.hpp"
#include "report/report.hpp"

namespace ebbtide::report {

/// Pages with head and foot, without attachments. Error: the font is missing, or Cairo reports a failure.
[[nodiscard]] Result<std::string> pdf_of(const Document& document, Paper paper);

}  // namespace ebbtide::report
