#pragma once
// Tolerances come from the digits that a source prints.

#include <gtest/gtest.h>

#include <cmath>
#include <cstdlib>
#include <string>
#include <string_view>

namespace ebbtide::testing_support {

/// True when `value` rounds to the printed text: agrees(0.37879, "0.37875") is false, agrees(0.378752,
/// "0.37875") true. `slack` widens by that many units of the last printed digit (1 when the source may have
/// cut instead of rounded). Zero against a printed non-zero and NaN fail.
inline ::testing::AssertionResult agrees(double value, std::string_view printed, double slack = 0.5) {
    const std::string text(printed);
    const double expected = std::strtod(text.c_str(), nullptr);
    const std::size_t exponent_at = text.find_first_of("eE");
    const std::string mantissa = text.substr(0, exponent_at);
    const int exponent = exponent_at == std::string::npos ? 0 : std::atoi(text.c_str() + exponent_at + 1);
    const std::size_t point = mantissa.find('.');
    const int places = point == std::string::npos ? 0 : static_cast<int>(mantissa.size() - point - 1);
    const double unit = std::pow(10.0, exponent - places);
    // A hair more than the half unit, for the printed text's own binary rounding.
    if (std::isfinite(value) && std::abs(value - expected) <= slack * unit * (1 + 1e-9))
        return ::testing::AssertionSuccess();
    return ::testing::AssertionFailure()
           << value << " does not agree with the printed " << printed << " (unit " << unit << ")";
}

}  // namespace ebbtide::testing_support
