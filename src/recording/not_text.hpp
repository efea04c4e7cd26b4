#pragma once
// Files that are no text, told by how they begin.

#include <optional>
#include <string>
#include <string_view>

#include "basis/result.hpp"

namespace ebbtide::recording {

/// The error for a head that is empty or no text; it names the kind of file where that is known.
[[nodiscard]] std::optional<Error> refuse_what_is_no_text(std::string_view head, const std::string& name);

}  // namespace ebbtide::recording
