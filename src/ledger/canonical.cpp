#include "ledger/canonical.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "basis/number_text.hpp"

namespace ebbtide::ledger {
namespace {

using nlohmann::json;

constexpr int deepest = 64;

/// Length of the UTF-8 character at the front (Unicode 15, table 3-7); 0 when there is none.
std::size_t character(std::string_view text) {
    const auto byte = [&](std::size_t i) {
        return i < text.size() ? static_cast<unsigned char>(text[i]) : static_cast<unsigned char>(0);
    };
    const auto follows = [&](std::size_t i, unsigned from = 0x80, unsigned to = 0xbf) {
        return byte(i) >= from && byte(i) <= to;
    };
    const unsigned lead = byte(0);
    if (lead < 0x80) return 1;
    if (lead >= 0xc2 && lead <= 0xdf) return follows(1) ? 2 : 0;
    if (lead >= 0xe0 && lead <= 0xef) {
        const unsigned from = lead == 0xe0 ? 0xa0 : 0x80, to = lead == 0xed ? 0x9f : 0xbf;
        return follows(1, from, to) && follows(2) ? 3 : 0;
    }
    if (lead >= 0xf0 && lead <= 0xf4) {
        const unsigned from = lead == 0xf0 ? 0x90 : 0x80, to = lead == 0xf4 ? 0x8f : 0xbf;
        return follows(1, from, to) && follows(2) && follows(3) ? 4 : 0;
    }
    return 0;
}

/// Of the first byte that a text of a ledger may not have.
std::optional<std::size_t> first_fault(std::string_view text) {
    for (std::size_t at = 0; at < text.size();) {
        const std::size_t length = text[at] == '\0' ? 0 : character(text.substr(at));
        if (length == 0) return at;
        at += length;
    }
    return {};
}

/// Where a value stands in a document; written out only where something is wrong there.
struct Place {
    const Place* within = nullptr;
    std::string_view key = {};
    std::size_t index = 0;  ///< in an array, when there is no key

    [[nodiscard]] std::string text() const {
        if (!within) return {};
        return within->text() + "/" + (key.data() ? std::string(key) : std::to_string(index));
    }
};

std::optional<Error> fault_within(const json& value, const Place& place) {
    if (value.is_number_float() && !std::isfinite(value.get<double>()))
        throw std::logic_error("a number that is not finite reached the ledger: " + place.text());
    if (value.is_string() && first_fault(value.get_ref<const std::string&>()))
        return fault_of_text(value.get_ref<const std::string&>(), place.text());
    if (value.is_object())
        for (const auto& [key, part] : value.items()) {
            if (first_fault(key)) return fault_of_text(key, "a key in " + place.text());
            if (auto fault = fault_within(part, {&place, key})) return fault;
        }
    if (value.is_array())
        for (std::size_t i = 0; i < value.size(); ++i)
            if (auto fault = fault_within(value[i], {&place, {}, i})) return fault;
    return {};
}

void append_text(std::string& out, const std::string& text) {
    out += '"';
    for (const char c : text) {
        const auto byte = static_cast<unsigned char>(c);
        static constexpr std::string_view escaped = "\"\\\b\f\n\r\t", letters = "\"\\bfnrt";
        if (byte >= 0x20 && c != '"' && c != '\\')
            out += c;
        else if (const std::size_t at = escaped.find(c); at != std::string_view::npos)
            (out += '\\') += letters[at];
        else
            out += fmt::format("\\u{:04x}", byte);
    }
    out += '"';
}

/// Ours rather than the library's: its digits are not always the fewest, and may change with its version,
/// when what was hashed decades ago must still read as canonical.
void append_line(std::string& out, const json& value) {
    const char* before = "";
    if (value.is_object()) {
        out += '{';
        for (const auto& [key, part] : value.items()) {
            out += before;
            append_text(out, key);
            out += ':';
            append_line(out, part);
            before = ",";
        }
        out += '}';
    } else if (value.is_array()) {
        out += '[';
        for (const json& part : value) {
            out += before;
            append_line(out, part);
            before = ",";
        }
        out += ']';
    } else if (value.is_string()) {
        append_text(out, value.get_ref<const std::string&>());
    } else if (value.is_number_float()) {
        const double number = value.get<double>();
        // Without its point a negative zero would be read as a whole number, which has no sign.
        out += number == 0 && std::signbit(number) ? "-0.0" : shortest_text(number);
    } else {
        out += value.dump();  // null, true, false, whole numbers: there is one way to write them
    }
}

/// Levels of brackets, seen before the text is parsed: parsing goes as deep as the text does.
int depth_of(std::string_view text) {
    int depth = 0, most = 0;
    bool quoted = false;
    for (std::size_t i = 0; i < text.size(); ++i) {
        if (text[i] == '"')
            quoted = !quoted;
        else if (quoted)
            i += text[i] == '\\' ? 1 : 0;
        else if (text[i] == '[' || text[i] == '{')
            most = std::max(most, ++depth);
        else if (text[i] == ']' || text[i] == '}')
            --depth;
    }
    return most;
}

}  // namespace

std::optional<Error> fault_of_text(std::string_view text, const std::string& name) {
    const auto at = first_fault(text);
    if (!at) return {};
    if (text[*at] == '\0')
        return Error{Fault::bad_input, fmt::format("holds U+0000 as character {} of its bytes", *at + 1),
                     name, "Take that character out: no text of a ledger has it"};
    return Error{Fault::bad_input, fmt::format("byte {} is not UTF-8", *at + 1), name,
                 "Write the text as UTF-8"};
}

Result<std::string> canonical_line(const json& document) {
    if (auto fault = fault_within(document, {})) return *fault;
    std::string line;
    append_line(line, document);
    return line;
}

Result<json> parse_canonical(std::string_view line) {
    const auto refused = [](const char* what) {
        return Error{Fault::bad_input, what, "", "Only this program writes what a ledger holds"};
    };
    if (depth_of(line) > deepest) return refused("JSON of more than 64 levels");
    json document = json::parse(line, nullptr, false);
    if (document.is_discarded()) return refused("not JSON");
    const auto again = canonical_line(document);
    if (!again) return again.error();
    if (*again != line) return refused("JSON that is not canonical");
    return document;
}

}  // namespace ebbtide::ledger
