#include "basis/number_text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>

namespace ebbtide {

std::string shortest_text(double value) {
    if (!std::isfinite(value)) throw std::invalid_argument("shortest_text: not finite");
    std::array<char, 32> buffer{};
    const auto [end, error] = std::to_chars(buffer.data(), buffer.data() + buffer.size(), value);
    return {buffer.data(), end};
}

std::optional<double> parse_number(std::string_view text) {
    if (!text.empty() && text[0] == '+') text.remove_prefix(1);
    double value = 0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (text.empty() || error != std::errc{} || end != text.data() + text.size() || !std::isfinite(value))
        return {};
    return value;
}

std::string fixed_text(double value, int places) {
    std::string text = fmt::format("{:.{}f}", value, places);
    // "-0.00" says a sign that the digits do not carry.
    if (text[0] == '-' && text.find_first_of("123456789") == std::string::npos) text.erase(0, 1);
    return text;
}

std::string_view without_spaces_around(std::string_view text) {
    while (!text.empty() && text.front() == ' ') text.remove_prefix(1);
    while (!text.empty() && text.back() == ' ') text.remove_suffix(1);
    return text;
}

std::string significant_text(double value, int digits) {
    if (value == 0 || !std::isfinite(value)) return fixed_text(value, std::max(0, digits - 1));
    const std::string scientific = fmt::format("{:.{}e}", value, digits - 1);
    const int exponent = std::stoi(scientific.substr(scientific.find('e') + 1));
    if (exponent < -3 || exponent >= 6) return scientific;
    return fmt::format("{:.{}f}", value, std::max(0, digits - 1 - exponent));
}

std::string uncertain_text(double value, std::optional<double> standard_uncertainty) {
    if (!standard_uncertainty || !std::isfinite(*standard_uncertainty) || *standard_uncertainty <= 0)
        return significant_text(value, 4);
    // Through text, so that 0.0998 counts as 0.10 and not as two digits one place too low.
    const std::string rounded = fmt::format("{:.1e}", *standard_uncertainty);
    const int exponent = std::stoi(rounded.substr(rounded.find('e') + 1));
    const int places = 1 - exponent;
    if (std::abs(value) < *standard_uncertainty || places < 0 || places > 12) {
        const int shown = std::clamp(places, 0, 17);
        return fmt::format("{} ± {}", fixed_text(value, shown), fixed_text(*standard_uncertainty, shown));
    }
    const int digits_of_u =
        static_cast<int>(std::lround(std::stod(rounded.substr(0, rounded.find('e'))) * 10));
    if (places == 0) return fmt::format("{:.0f}({})", value, digits_of_u);
    return fmt::format(
        "{}({})", fixed_text(value, places),
        exponent >= 0 ? fixed_text(*standard_uncertainty, places) : std::to_string(digits_of_u));
}

std::string plus_minus_text(double value, std::optional<double> expanded_uncertainty, std::string_view unit) {
    if (!expanded_uncertainty || !std::isfinite(*expanded_uncertainty) || *expanded_uncertainty <= 0)
        return fmt::format("{} {}", significant_text(value, 4), unit);
    const std::string rounded = fmt::format("{:.1e}", *expanded_uncertainty);
    const int exponent = std::stoi(rounded.substr(rounded.find('e') + 1));
    const int places = std::clamp(1 - exponent, 0, 17);
    return fmt::format("{} {} ± {} {}", fixed_text(value, places), unit,
                       fixed_text(*expanded_uncertainty, places), unit);
}

}  // namespace ebbtide
