#pragma once
// Numbers as text, the same in every locale.

#include <optional>
#include <string>
#include <string_view>

#include "basis/result.hpp"

namespace ebbtide {

/// Shortest text that reads back as the same double: "0.1", "1e-07". The value must be finite.
[[nodiscard]] std::string shortest_text(double value);

/// The whole text as a finite double, decimal point only; nothing for anything else ("1,5", "nan", "1e400",
/// "2x", "").
[[nodiscard]] std::optional<double> parse_number(std::string_view text);

/// What is left of a text when the spaces at either end are gone.
[[nodiscard]] std::string_view without_spaces_around(std::string_view text);

/// `value` with `digits` significant digits, trailing zeros kept: significant_text(0.5, 3) is "0.500". Values
/// under 1e-3 or of 1e6 and more are written with an exponent. digits is 1 to 17.
[[nodiscard]] std::string significant_text(double value, int digits);

/// `value` with `places` digits after the point.
[[nodiscard]] std::string fixed_text(double value, int places);

/// As metrologists write it (JCGM 100:2008, 7.2.2): the standard uncertainty in brackets after the last
/// digits, one or two digits of it: uncertain_text(0.5123, 0.0031) is "0.5123(31)". Two digits of the
/// uncertainty are kept. Falls back to four significant digits when the uncertainty is absent, zero or not
/// finite; when it exceeds the value's own size the digits still line up: "0.1(12)" is written "0.1 ± 1.2".
[[nodiscard]] std::string uncertain_text(double value, std::optional<double> standard_uncertainty);

/// With the expanded uncertainty in full, its unit after both: plus_minus_text(0.47, 0.04, "s") is
/// "0.470 s ± 0.040 s". Two digits of the uncertainty are kept; without one (absent, zero, not finite) four
/// significant digits of the value stand alone.
[[nodiscard]] std::string plus_minus_text(double value, std::optional<double> expanded_uncertainty,
                                          std::string_view unit);

}  // namespace ebbtide
