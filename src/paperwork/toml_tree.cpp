#include "paperwork/toml_tree.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <numeric>
#include <optional>

#include "basis/number_text.hpp"

// Compiled in here, header only: the packaged shared library comes with exceptions and the nesting limit of
// 256. Our documents nest four deep; 256 lets a hostile file eat the stack.
#define TOML_MAX_NESTED_VALUES 16
// "[=]" meets an assertion of the library; without it the library's own check of the same thing gives an
// error.
#define TOML_ASSERT(expr) static_assert(true)
#define TOML_EXCEPTIONS 0
#define TOML_ENABLE_FORMATTERS 0
#include <toml++/toml.h>

namespace ebbtide::paperwork {
namespace {

constexpr std::size_t largest_document = 4 << 20;
constexpr std::ptrdiff_t most_dots_a_line = 200;

std::string text_of(const toml::date& date) {
    return fmt::format("{:04}-{:02}-{:02}", date.year, date.month, date.day);
}

std::string text_of(const toml::date_time& moment) {
    std::string text = fmt::format("{}T{:02}:{:02}:{:02}", text_of(moment.date), moment.time.hour,
                                   moment.time.minute, moment.time.second);
    if (moment.time.nanosecond != 0) text += fmt::format(".{:09}", moment.time.nanosecond);
    if (!moment.offset) return text;
    const int minutes = moment.offset->minutes;
    if (minutes == 0) return text + 'Z';
    return text + fmt::format("{}{:02}:{:02}", minutes < 0 ? '-' : '+', std::abs(minutes) / 60,
                              std::abs(minutes) % 60);
}

int line_of(const toml::node& node) {
    return std::max(1, static_cast<int>(node.source().begin.line));
}

Node converted(const toml::node& node);

Node converted(const toml::table& table) {
    Node out;
    out.line = line_of(table);
    std::vector<std::pair<std::string, Node>> entries;
    for (const auto& [key, value] : table) {
        entries.emplace_back(std::string(key.str()), converted(value));
        // A table is where its name stands, also when only deeper ones are written out.
        const auto key_line = static_cast<int>(key.source().begin.line);
        if (key_line > 0 && entries.back().second.kind != Node::Kind::array)
            entries.back().second.line = key_line;
    }
    // The library sorts by name; people read by line.
    std::ranges::stable_sort(entries, {}, [](const auto& entry) { return entry.second.line; });
    for (auto& [key, value] : entries) {
        out.keys.push_back(std::move(key));
        out.elements.push_back(std::move(value));
    }
    return out;
}

Node converted(const toml::node& node) {
    if (const auto* table = node.as_table()) return converted(*table);
    Node out;
    out.line = line_of(node);
    if (const auto* array = node.as_array()) {
        out.kind = Node::Kind::array;
        for (const toml::node& element : *array) out.elements.push_back(converted(element));
    } else if (const auto* text = node.as_string()) {
        out.kind = Node::Kind::text;
        out.text = text->get();
    } else if (const auto* whole = node.as_integer()) {
        out.kind = Node::Kind::whole;
        out.whole = whole->get();
        out.number = static_cast<double>(out.whole);
    } else if (const auto* number = node.as_floating_point()) {
        out.kind = Node::Kind::number;
        out.number = number->get();
    } else if (const auto* truth = node.as_boolean()) {
        out.kind = Node::Kind::truth;
        out.truth = truth->get();
    } else if (const auto* date = node.as_date()) {
        out.kind = Node::Kind::date;
        out.text = text_of(date->get());
    } else if (const auto* moment = node.as_date_time()) {
        out.kind = moment->get().offset ? Node::Kind::instant : Node::Kind::zoneless_time;
        out.text = text_of(moment->get());
    } else if (const auto* time = node.as_time()) {
        out.kind = Node::Kind::zoneless_time;
        out.text = fmt::format("{:02}:{:02}:{:02}", time->get().hour, time->get().minute, time->get().second);
    }
    return out;
}

/// Dotted keys nest without brackets, which the library does not limit: "a.a.a. ..." a megabyte long would
/// end in a chain of destructors deeper than the stack.
std::optional<int> line_with_too_many_dots(std::string_view toml) {
    int line = 1;
    std::ptrdiff_t dots = 0;
    for (const char c : toml) {
        if (c == '\n') {
            ++line;
            dots = 0;
        } else if (c == '.' && ++dots > most_dots_a_line) {
            return line;
        }
    }
    return {};
}

}  // namespace

const Node* Node::find(std::string_view key) const {
    const auto found = std::ranges::find(keys, key);
    return found == keys.end() ? nullptr : &elements[static_cast<std::size_t>(found - keys.begin())];
}

std::string shortened(std::string_view text) {
    std::size_t length = std::min<std::size_t>(text.size(), 60);
    // Not in the middle of a UTF-8 character.
    while (length < text.size() && length > 0 && (static_cast<unsigned char>(text[length]) & 0xC0) == 0x80)
        --length;
    std::string out(text.substr(0, length));
    std::ranges::replace_if(
        out, [](char c) { return static_cast<unsigned char>(c) < 0x20 || c == 0x7F; }, '?');
    return length < text.size() ? out + "..." : out;
}

std::string shown(const Node& node) {
    switch (node.kind) {
        case Node::Kind::table:
            return "a table";
        case Node::Kind::array:
            return "a list";
        case Node::Kind::text:
            return fmt::format("the text '{}'", shortened(node.text));
        case Node::Kind::whole:
            return fmt::format("the number {}", node.whole);
        case Node::Kind::number:
            return fmt::format("the number {}", node.number);
        case Node::Kind::truth:
            return node.truth ? "true" : "false";
        case Node::Kind::date:
            return "the date " + node.text;
        case Node::Kind::instant:
            return "the time " + node.text;
        case Node::Kind::zoneless_time:
            return fmt::format("the time {} without a zone", node.text);
    }
    return "";
}

Result<Node> parse_tree(std::string_view toml, const std::string& name) {
    if (toml.size() > largest_document)
        return Error{Fault::bad_input, fmt::format("the file holds {} bytes", toml.size()), name,
                     fmt::format("Files of this kind are small; the limit is {} bytes", largest_document)};
    if (const auto line = line_with_too_many_dots(toml))
        return Error{Fault::bad_input, fmt::format("more than {} points in one line", most_dots_a_line),
                     fmt::format("{}:{}", name, *line), "Break the line, or mend the key"};
    const toml::parse_result parsed = toml::parse(toml);
    if (!parsed) {
        const toml::parse_error& error = parsed.error();
        const auto& at = error.source().begin;
        return Error{Fault::bad_input, fmt::format("not TOML: {}", shortened(error.description())),
                     fmt::format("{}:{}", name, std::max<unsigned>(1, at.line)),
                     fmt::format("See column {}", std::max<unsigned>(1, at.column))};
    }
    return converted(parsed.table());
}

}  // namespace ebbtide::paperwork
