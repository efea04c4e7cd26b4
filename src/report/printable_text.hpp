#pragma once
// Text that may come from anywhere, made fit for a page.

#include <string>
#include <string_view>

namespace ebbtide::report {

/// Valid UTF-8 without control characters (line feeds stay) and without characters that turn the direction of
/// reading; what is taken away leaves U+FFFD, so that it shows.
[[nodiscard]] std::string printable(std::string_view text);

/// Spaces made unbreakable where a line must not end: before a percent sign, between a number and its unit
/// (s, V), after a comparison or ± before a number; and anywhere in a number and its unit, where only what
/// follows in brackets may go to the next line.
[[nodiscard]] std::string bound_together(std::string_view text, bool number);

}  // namespace ebbtide::report
