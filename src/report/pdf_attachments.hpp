#pragma once
// Files inside a PDF, by qpdf: so that a report carries what its figures can be derived from again.

#include <string>
#include <vector>

#include "basis/result.hpp"
#include "report/document.hpp"
#include "report/report.hpp"

namespace ebbtide::report {

/// The PDF with attachments and what an archive asks for; deterministic. Error bad_input: two attachments of
/// one name.
[[nodiscard]] Result<std::string> with_attachments(const std::string& pdf, const Document& document,
                                                   const std::vector<Attachment>& attachments);

}  // namespace ebbtide::report
