#pragma once
// What a request's target names. Strict: whatever a path could hide (dots, escaped slashes, control
// characters, bytes that are no UTF-8) is no target. Pure.

#include <map>
#include <optional>
#include <string>
#include <string_view>

namespace ebbtide::server {

struct Target {
    std::string path;  ///< decoded once
    std::map<std::string, std::string>
        query;  ///< decoded, '+' is a blank; of a name that comes twice the last
};

/// Nothing when it does not begin with '/', has a segment "." or "..", an empty segment before the last, an
/// escaped slash, a backslash, a control character, an escape that is none, or is no UTF-8 once decoded.
[[nodiscard]] std::optional<Target> parse_target(std::string_view target);

}  // namespace ebbtide::server
