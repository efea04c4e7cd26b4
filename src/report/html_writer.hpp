#pragma once
// The document as one HTML page: style and drawings inline, nothing fetched from anywhere.

#include <string>

#include "report/document.hpp"

namespace ebbtide::report {

[[nodiscard]] std::string html_of(const Document& document);

/// The picture as an SVG element whose words are text; colours are custom properties of the page.
[[nodiscard]] std::string svg_of(const Picture& picture);

/// Printable text with the five characters that mean something in HTML written as entities.
[[nodiscard]] std::string escaped(std::string_view text);

}  // namespace ebbtide::report
