#include "ledger/canonical.hpp"

#include <fmt/format.h>

#include <cmath>
#include <stdexcept>

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

std::optional<Error> fault_within(const json& value, const std::string& place) {
    if (value.is_number_float() && !std::isfinite(value.get<double>()))
        throw std::logic_error("a number that is not finite reached the ledger: " + place);
    if (value.is_string()) return fault_of_text(value.get_ref<const std::string&>(), place);
    if (value.is_object())
        for (const auto& [key, part] : value.items()) {
            if (auto fault = fault_of_text(key, "a key in " + place)) return fault;
            if (auto fault = fault_within(part, place + "/" + key)) return fault;
        }
    if (value.is_array())
        for (std::size_t i = 0; i < value.size(); ++i)
            if (auto fault = fault_within(value[i], fmt::format("{}/{}", place, i))) return fault;
    return {};
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
    for (std::size_t at = 0; at < text.size();) {
        if (text[at] == '\0')
            return Error{Fault::bad_input, fmt::format("holds U+0000 as character {} of its bytes", at + 1),
                         name, "Take that character out: no text of a ledger has it"};
        const std::size_t length = character(text.substr(at));
        if (length == 0)
            return Error{Fault::bad_input, fmt::format("byte {} is not UTF-8", at + 1), name,
                         "Write the text as UTF-8"};
        at += length;
    }
    return {};
}

Result<std::string> canonical_line(const json& document) {
    if (auto fault = fault_within(document, "")) return *fault;
    return document.dump();
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
