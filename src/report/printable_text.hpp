#pragma once
// Text that may come from anywhere, made fit for a page.

#include <string>
#include <string_view>

namespace ebbtide::report {

/// Valid UTF-8 without control characters (line feeds stay) and without characters that turn the direction of
/// reading; what is taken away leaves U+FFFD, so that it shows.
[[nodiscard]] std::string printable(std::string_view text);

/// Spaces made unbreakable where a line must not end: before a percent sign, and anywhere in a number and its
/// unit; only what follows a number in brackets may go to the next line.
[[nodiscard]] std::string bound_together(std::string_view text, bool number);

}  // namespace ebbtide::report
