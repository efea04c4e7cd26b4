#pragma once
// The order in which people count: "run2" before "run10".

#include <string_view>

namespace ebbtide::recording {

/// Runs of digits compare as numbers, everything else byte by byte; where only leading zeros differ, the
/// shorter one is first. A strict order over all texts.
[[nodiscard]] inline bool natural_less(std::string_view a, std::string_view b) {
    const auto is_digit = [](char c) { return c >= '0' && c <= '9'; };
    std::size_t i = 0, k = 0;
    while (i < a.size() && k < b.size()) {
        if (!is_digit(a[i]) || !is_digit(b[k])) {
            if (a[i] != b[k]) return static_cast<unsigned char>(a[i]) < static_cast<unsigned char>(b[k]);
            ++i, ++k;
            continue;
        }
        const auto number = [&](std::string_view text, std::size_t& at) {
            while (at < text.size() && text[at] == '0') ++at;
            const std::size_t from = at;
            while (at < text.size() && is_digit(text[at])) ++at;
            return text.substr(from, at - from);
        };
        const std::string_view first = number(a, i), second = number(b, k);
        if (first.size() != second.size()) return first.size() < second.size();
        if (first != second) return first < second;
    }
    if (i < a.size() || k < b.size()) return i == a.size();
    return a.size() != b.size() ? a.size() < b.size() : a < b;
}

}  // namespace ebbtide::recording
