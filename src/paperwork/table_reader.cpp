#include "paperwork/table_reader.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <filesystem>

#include "basis/number_text.hpp"

namespace ebbtide::paperwork {
namespace {

constexpr std::size_t longest_text = 4000;
constexpr std::size_t longest_id = 80;

/// What a missing table reads as: nothing in it, and none of its own keys reported as missing twice.
const Node& empty_table() {
    static const Node node;
    return node;
}

bool has_control_character(std::string_view text) {
    return std::ranges::any_of(text, [](char c) {
        return (static_cast<unsigned char>(c) < 0x20 && c != '\n' && c != '\t') || c == 0x7F;
    });
}

}  // namespace

bool Range::holds(double value) const {
    // Not a number fails both comparisons; infinity is above any `most`.
    return (least_excluded ? value > least : value >= least) &&
           (most_excluded ? value < most : value <= most);
}

std::string Range::text() const {
    const std::string low = (least_excluded ? "above " : "from ") + shortest_text(least);
    const bool bounded = most < std::numeric_limits<double>::max();
    const std::string high =
        bounded ? (most_excluded ? " to below " : " to ") + shortest_text(most) : std::string(" up");
    return low + high + (unit.empty() ? "" : " ") + std::string(unit);
}

TableReader::TableReader(const Node& table, std::string path, Problems& problems)
    : table_(&table), path_(std::move(path)), problems_(&problems) {}

TableReader::TableReader(TableReader&& other) noexcept
    : table_(std::exchange(other.table_, nullptr)),
      path_(std::move(other.path_)),
      problems_(other.problems_),
      known_(std::move(other.known_)),
      all_known_(other.all_known_) {}

TableReader::~TableReader() {
    if (!table_ || all_known_) return;
    for (std::size_t i = 0; i < table_->keys.size(); ++i) {
        const std::string& key = table_->keys[i];
        if (std::ranges::find(known_, key) != known_.end()) continue;
        problems_->add(table_->elements[i].line, fmt::format("unknown key '{}'", full_key(shortened(key))),
                       suggestion(key, known_, fmt::format("Known here: {}", fmt::join(known_, ", "))));
    }
}

std::string TableReader::suggestion(std::string_view word, std::span<const std::string> candidates,
                                    std::string otherwise) const {
    const std::string near = problems_->full() ? "" : nearest(word, candidates);
    return near.empty() ? otherwise : fmt::format("Did you mean '{}'?", near);
}

std::string TableReader::full_key(std::string_view key) const {
    return path_ + std::string(key);
}

void TableReader::problem(std::string_view key, std::string what, std::string remedy) {
    const Node* at = table_->find(key);
    problems_->add(at ? at->line : table_->line, std::move(what), std::move(remedy));
}

const Node* TableReader::asked(std::string_view key) {
    if (!all_known_ && std::ranges::find(known_, key) == known_.end()) known_.emplace_back(key);
    return table_->find(key);
}

const Node* TableReader::required(std::string_view key) {
    const Node* found = asked(key);
    if (!found && table_ != &empty_table())
        problems_->add(table_->line, fmt::format("'{}' is missing", full_key(key)), "");
    return found;
}

void TableReader::wrong_type(std::string_view key, const Node& found, std::string_view wanted) {
    problems_->add(found.line, fmt::format("'{}' is {}; it must be {}", full_key(key), shown(found), wanted),
                   "");
}

const Node& TableReader::all() {
    all_known_ = true;
    return *table_;
}

// Numbers

std::optional<double> TableReader::number_in(std::string_view key, const Node& found, const Range& range) {
    if (found.kind != Node::Kind::whole && found.kind != Node::Kind::number) {
        wrong_type(key, found, "a number " + range.text());
        return {};
    }
    if (!range.holds(found.number)) {
        problems_->add(
            found.line,
            fmt::format("'{}' is {}; it must be {}", full_key(key),
                        std::isfinite(found.number) ? shortest_text(found.number) : "not a finite number",
                        range.text()),
            "");
        return {};
    }
    return found.number;
}

double TableReader::number(std::string_view key, const Range& range) {
    const Node* found = required(key);
    return found ? number_in(key, *found, range).value_or(0) : 0;
}

std::optional<double> TableReader::optional_number(std::string_view key, const Range& range) {
    const Node* found = asked(key);
    return found ? number_in(key, *found, range) : std::nullopt;
}

double TableReader::number_or(std::string_view key, const Range& range, double otherwise) {
    return optional_number(key, range).value_or(otherwise);
}

std::optional<int> TableReader::whole_in(std::string_view key, const Node& found, int least, int most) {
    const std::string wanted = fmt::format("a whole number from {} to {}", least, most);
    if (found.kind != Node::Kind::whole || found.whole < least || found.whole > most) {
        wrong_type(key, found, wanted);
        return {};
    }
    return static_cast<int>(found.whole);
}

int TableReader::whole(std::string_view key, int least, int most) {
    const Node* found = required(key);
    return found ? whole_in(key, *found, least, most).value_or(least) : least;
}

int TableReader::whole_or(std::string_view key, int least, int most, int otherwise) {
    const Node* found = asked(key);
    return found ? whole_in(key, *found, least, most).value_or(otherwise) : otherwise;
}

bool TableReader::truth_or(std::string_view key, bool otherwise) {
    const Node* found = asked(key);
    if (!found) return otherwise;
    if (found->kind != Node::Kind::truth) wrong_type(key, *found, "true or false");
    return found->truth;
}

// Texts

std::optional<std::string> TableReader::text_in(std::string_view key, const Node& found) {
    if (found.kind != Node::Kind::text) {
        wrong_type(key, found, "a text in quotes");
        return {};
    }
    const std::string& text = found.text;
    if (text.find_first_not_of(" \t\r\n") == std::string::npos) {
        problems_->add(found.line, fmt::format("'{}' is an empty text", full_key(key)),
                       "Fill it in, or leave the key out where it may be absent");
    } else if (text.size() > longest_text) {
        problems_->add(found.line,
                       fmt::format("'{}' holds {} bytes; at most {} are taken", full_key(key), text.size(),
                                   longest_text),
                       "");
    } else if (has_control_character(text)) {
        problems_->add(found.line, fmt::format("'{}' holds a control character", full_key(key)), "");
    } else {
        return text;
    }
    return {};
}

std::string TableReader::text(std::string_view key) {
    const Node* found = required(key);
    return found ? text_in(key, *found).value_or("") : "";
}

std::string TableReader::text_or(std::string_view key, std::string otherwise) {
    const Node* found = asked(key);
    return found ? text_in(key, *found).value_or("") : otherwise;
}

std::string TableReader::id(std::string_view key) {
    const std::string out = text(key);
    if (out.size() > longest_id)
        problem(
            key,
            fmt::format("'{}' holds {} bytes; a name has at most {}", full_key(key), out.size(), longest_id),
            "");
    else if (!out.empty() &&
             (out.find_first_of("\n\t") != std::string::npos || out.front() == ' ' || out.back() == ' '))
        problem(key,
                fmt::format("'{}' is '{}': a name stands on one line without blanks at its ends",
                            full_key(key), shortened(out)),
                "");
    return out;
}

std::string TableReader::file(std::string_view key) {
    std::string out = text(key);
    const bool leads_out = out.starts_with('/') || out.starts_with('\\') || out == ".." ||
                           out.starts_with("../") || out.ends_with("/..") ||
                           out.find("/../") != std::string::npos;
    if (leads_out || out.size() > 255 || out.find('\n') != std::string::npos)
        problem(key,
                fmt::format("'{}' is '{}': not a file of the order's folder", full_key(key), shortened(out)),
                "Put the file into the folder and name it relative to that");
    // "./a.csv" and "a.csv" are one file.
    return std::filesystem::path(std::move(out)).lexically_normal().string();
}

std::string TableReader::file_or_none(std::string_view key) {
    return asked(key) ? file(key) : "";
}

std::vector<std::string> TableReader::texts_or_none(std::string_view key) {
    const Node* found = asked(key);
    if (!found) return {};
    if (found->kind != Node::Kind::array) {
        wrong_type(key, *found, "a list of texts");
        return {};
    }
    std::vector<std::string> out;
    for (const Node& element : found->elements)
        if (auto text = text_in(key, element)) out.push_back(std::move(*text));
    return out;
}

std::optional<std::size_t> TableReader::word_index(std::string_view key,
                                                   std::span<const std::string_view> names) {
    const Node* found = required(key);
    if (!found) return {};
    if (found->kind == Node::Kind::text) {
        const auto at = std::ranges::find(names, found->text);
        if (at != names.end()) return static_cast<std::size_t>(at - names.begin());
    }
    wrong_type(key, *found, fmt::format("one of '{}'", fmt::join(names, "', '")));
    return {};
}

// Days and times

std::optional<Date> TableReader::date_in(std::string_view key, const Node& found) {
    if (found.kind != Node::Kind::date && found.kind != Node::Kind::text) {
        wrong_type(key, found, "a date such as 2026-03-14");
        return {};
    }
    const Result<Date> date = parse_date(found.text);
    if (date) return *date;
    problems_->add(found.line, fmt::format("'{}': '{}' is not a date", full_key(key), shortened(found.text)),
                   date.error().remedy);
    return {};
}

Date TableReader::date(std::string_view key) {
    const Node* found = required(key);
    return found ? date_in(key, *found).value_or(Date{}) : Date{};
}

std::optional<Date> TableReader::optional_date(std::string_view key) {
    const Node* found = asked(key);
    return found ? date_in(key, *found) : std::nullopt;
}

std::optional<Instant> TableReader::optional_instant(std::string_view key) {
    const Node* found = asked(key);
    if (!found) return {};
    if (found->kind != Node::Kind::instant && found->kind != Node::Kind::text) {
        wrong_type(key, *found, "a time with its zone such as 2026-03-14T09:26:53Z");
        return {};
    }
    const Result<Instant> instant = parse_instant(found->text);
    if (instant) return *instant;
    problems_->add(found->line,
                   fmt::format("'{}': '{}' is not a point in time", full_key(key), shortened(found->text)),
                   instant.error().remedy);
    return {};
}

// Levels

std::optional<plan::Level> TableReader::level_in(std::string_view key, const Node& found) {
    const bool is_number = found.kind == Node::Kind::whole || found.kind == Node::Kind::number;
    if (!is_number && found.kind != Node::Kind::text) {
        wrong_type(key, found, "a decay level such as 0.1, \"10 %\", \"1/e\" or \"500 V\"");
        return {};
    }
    const std::string text =
        is_number ? (std::isfinite(found.number) ? shortest_text(found.number) : "not finite") : found.text;
    const Result<plan::Level> level = plan::parse_level(text);
    if (level && std::isfinite(level->value) && text.size() <= longest_id) return *level;
    problems_->add(found.line, fmt::format("'{}': '{}' is not a decay level", full_key(key), shortened(text)),
                   level ? "" : level.error().remedy);
    return {};
}

plan::Level TableReader::level(std::string_view key) {
    const Node* found = required(key);
    return found ? level_in(key, *found).value_or(plan::Level{}) : plan::Level{};
}

std::vector<plan::Level> TableReader::levels(std::string_view key) {
    const Node* found = required(key);
    if (!found) return {};
    if (found->kind != Node::Kind::array || found->elements.empty()) {
        wrong_type(key, *found, "a list of decay levels, at least one");
        return {};
    }
    std::vector<plan::Level> out;
    for (const Node& element : found->elements) {
        const auto level = level_in(key, element);
        if (!level) continue;
        const bool repeated =
            std::ranges::any_of(out, [&](const plan::Level& other) { return other.same_as(*level); });
        if (repeated)
            problems_->add(element.line,
                           fmt::format("'{}' names the level {} twice", full_key(key), level->label()), "");
        out.push_back(*level);
    }
    return out;
}

// Tables

TableReader TableReader::table(std::string_view key) {
    const Node* found = required(key);
    if (found && found->kind != Node::Kind::table) wrong_type(key, *found, "a table");
    const bool usable = found && found->kind == Node::Kind::table;
    return {usable ? *found : empty_table(), full_key(key) + '.', *problems_};
}

std::optional<TableReader> TableReader::optional_table(std::string_view key) {
    if (!asked(key)) return {};
    return table(key);
}

std::vector<TableReader> TableReader::tables_in(std::string_view key, const Node& found) {
    std::vector<TableReader> out;
    if (found.kind != Node::Kind::array) {
        wrong_type(key, found, fmt::format("a list of tables, each under [[{}]]", full_key(key)));
        return out;
    }
    for (const Node& element : found.elements) {
        if (element.kind == Node::Kind::table)
            out.emplace_back(element, full_key(key) + '.', *problems_);
        else
            wrong_type(key, element, "a table");
    }
    return out;
}

std::vector<TableReader> TableReader::tables(std::string_view key) {
    const Node* found = required(key);
    if (!found) return {};
    if (found->kind == Node::Kind::array && found->elements.empty())
        wrong_type(key, *found, "a list of at least one table");
    return tables_in(key, *found);
}

std::vector<TableReader> TableReader::tables_or_none(std::string_view key) {
    const Node* found = asked(key);
    return found ? tables_in(key, *found) : std::vector<TableReader>{};
}

}  // namespace ebbtide::paperwork
