#pragma once
// Where a report goes, and the time it states.

#include <optional>
#include <string>

#include "basis/instant.hpp"
#include "basis/result.hpp"

namespace ebbtide::cli {

/// Now, or the time that SOURCE_DATE_EPOCH states, so that a report can be made again byte for byte.
[[nodiscard]] Instant time_of_making();

/// Reports are .pdf or .html.
[[nodiscard]] std::optional<Error> fault_of_ending(const std::string& output);

/// Written beside the target and moved over it: a full disk leaves the old report, not half a new one.
[[nodiscard]] Result<Done> write_file(const std::string& path, const std::string& bytes);

}  // namespace ebbtide::cli
