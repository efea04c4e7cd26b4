#pragma once
// A picture as a file of its own.

#include <optional>
#include <string>

#include "basis/result.hpp"
#include "report/picture.hpp"

namespace ebbtide::report {

/// Nothing for names that end in .svg, .png or .pdf.
[[nodiscard]] std::optional<Error> fault_of_picture_name(const std::string& file);

/// The bytes of it, by the ending of `file`; PNG with four dots a point. Errors: another ending; the font is
/// missing, or Cairo reports a failure.
[[nodiscard]] Result<std::string> picture_file(const Picture& picture, const std::string& file);

}  // namespace ebbtide::report
