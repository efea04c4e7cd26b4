#pragma once
// Where a report goes.

#include <optional>
#include <string>

#include "basis/result.hpp"

namespace ebbtide::cli {

/// Reports are .pdf or .html.
[[nodiscard]] std::optional<Error> fault_of_ending(const std::string& output);

/// Written beside the target and moved over it: a full disk leaves the old report, not half a new one.
[[nodiscard]] Result<Done> write_file(const std::string& path, const std::string& bytes);

}  // namespace ebbtide::cli
