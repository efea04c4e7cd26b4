#pragma once
// What an archive asks of a PDF beside its pages: PDF/A-3b (ISO 19005-3:2012), as far as it can be built
// here. No tool at hand validates it; docs/formats/report.md lists the rules that are tested.

#include <string>

#include "report/document.hpp"

class QPDF;

namespace ebbtide::report {

/// ISO 32000-1, 7.9.4: "D:20260314092653Z"; seconds are enough.
[[nodiscard]] std::string pdf_date(Instant instant);

/// The document's properties in XMP (part 3, conformance B), uncompressed.
[[nodiscard]] std::string metadata_of(const Document& document);

/// Sets the properties, the same in XMP and in the trailer's dictionary; the language; and the output
/// intent, an sRGB profile that gives the pages' red, green and blue their meaning.
void make_archivable(QPDF& pdf, const Document& document);

}  // namespace ebbtide::report
