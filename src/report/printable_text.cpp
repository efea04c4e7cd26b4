#include "report/printable_text.hpp"

#include <cstdint>

namespace ebbtide::report {
namespace {

constexpr std::string_view replacement = "\xEF\xBF\xBD";

/// Length of the well-formed UTF-8 sequence at the start of `text` and its code point; length 0 when it is
/// none (Unicode 15, table 3-7).
struct Decoded {
    std::size_t length = 0;
    std::uint32_t code = 0;
};
Decoded decode(std::string_view text) {
    const auto byte = [&](std::size_t i) {
        return static_cast<std::uint32_t>(static_cast<unsigned char>(text[i]));
    };
    const std::uint32_t first = byte(0);
    if (first < 0x80) return {1, first};
    const std::size_t length = first >= 0xf0 ? 4 : first >= 0xe0 ? 3 : 2;
    if (first < 0xc2 || first > 0xf4 || text.size() < length) return {};
    std::uint32_t code = first & (0x7fU >> length);
    for (std::size_t i = 1; i < length; ++i) {
        if ((byte(i) & 0xc0) != 0x80) return {};
        code = (code << 6) | (byte(i) & 0x3f);
    }
    const bool overlong = (length == 3 && code < 0x800) || (length == 4 && code < 0x10000);
    if (overlong || (code >= 0xd800 && code <= 0xdfff) || code > 0x10ffff) return {};
    return {length, code};
}

bool shows_or_spaces(std::uint32_t code) {
    if (code == '\n') return true;
    if (code < 0x20 || (code >= 0x7f && code < 0xa0)) return false;
    const bool turns = (code >= 0x202a && code <= 0x202e) || (code >= 0x2066 && code <= 0x2069) ||
                       code == 0x200e || code == 0x200f;
    const bool breaks_line = code == 0x2028 || code == 0x2029;
    return !turns && !breaks_line && (code & 0xfffe) != 0xfffe;
}

}  // namespace

std::string printable(std::string_view text) {
    std::string out;
    out.reserve(text.size());
    while (!text.empty()) {
        const Decoded next = decode(text);
        const std::size_t taken = next.length == 0 ? 1 : next.length;
        if (next.length == 1 && next.code == '\t')
            out += ' ';
        else if (next.length == 1 && next.code == '\r')
            ;  // of a CRLF; the line feed stays
        else if (next.length != 0 && shows_or_spaces(next.code))
            out += text.substr(0, taken);
        else
            out += replacement;
        text.remove_prefix(taken);
    }
    return out;
}

std::string bound_together(std::string_view text, bool number) {
    const auto digit = [&](std::size_t at) { return at < text.size() && text[at] >= '0' && text[at] <= '9'; };
    const auto ends_word = [&](std::size_t at) {
        if (at >= text.size()) return true;
        const char c = text[at];
        return !(digit(at) || (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') ||
                 static_cast<signed char>(c) < 0);
    };
    const auto binds = [&](std::size_t at) {
        if (number) return at + 1 >= text.size() || text[at + 1] != '(';
        const char next = at + 1 < text.size() ? text[at + 1] : '\0';
        if (next == '%') return true;
        const std::string_view before = text.substr(0, at);
        const bool after_number = at > 0 && (digit(at - 1) || text[at - 1] == ')');
        if (after_number && (next == 's' || next == 'V') && ends_word(at + 2)) return true;
        return digit(at + 1) && (before.ends_with("<") || before.ends_with(">") || before.ends_with("≤") ||
                                 before.ends_with("≥") || before.ends_with("±"));
    };
    std::string out;
    for (std::size_t i = 0; i < text.size(); ++i)
        if (text[i] == ' ' && binds(i))
            out += "\xC2\xA0";  // no-break space
        else
            out += text[i];
    return out;
}

}  // namespace ebbtide::report
