#include "recording/decimal.hpp"

#include <algorithm>
#include <charconv>
#include <string>
#include <system_error>

namespace ebbtide::recording::detail {

namespace {

// True when the decimal number is at least 1, so that out of range means too large and not too small.
bool at_least_one(const std::string& text) {
    const std::size_t exponent_at = std::min(text.find_first_of("eE"), text.size());
    const std::size_t point = std::min(text.find('.'), exponent_at);
    const std::size_t leading = text.find_first_of("123456789");
    if (leading == std::string::npos || leading >= exponent_at) return false;
    long magnitude = static_cast<long>(point) - static_cast<long>(leading) - (leading < point ? 1 : 0);
    if (exponent_at < text.size()) {
        long power = 0;
        const bool below = text[exponent_at + 1] == '-';
        for (const char c : text.substr(exponent_at + 1))
            if (c >= '0' && c <= '9' && power < 1'000'000'000) power = power * 10 + (c - '0');
        magnitude += below ? -power : power;
    }
    return magnitude >= 0;
}

}  // namespace

NumberState read_by_the_long_way(const char* start, const char* end, char decimal_sign, double& value) {
    std::string text(*start == '+' ? start + 1 : start, end);
    std::replace(text.begin(), text.end(), decimal_sign, '.');
    const auto [stop, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (error == std::errc::result_out_of_range) {
        if (at_least_one(text)) return NumberState::too_large;
        value = text[0] == '-' ? -0.0 : 0.0;
        return NumberState::number;
    }
    return error == std::errc{} ? NumberState::number : NumberState::none;
}

}  // namespace ebbtide::recording::detail
