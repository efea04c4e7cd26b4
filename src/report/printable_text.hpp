#pragma once
// Text that may come from anywhere, made fit for a page.

#include <string>
#include <string_view>

namespace ebbtide::report {

/// Valid UTF-8 without control characters (line feeds stay) and without characters that turn the direction of
/// reading; what is taken away leaves U+FFFD, so that it shows.
[[nodiscard]] std::string printable(std::string_view text);

}  // namespace ebbtide::report
