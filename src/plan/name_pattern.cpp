#include "plan/name_pattern.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <set>

namespace ebbtide::plan {

namespace {

constexpr std::array<std::string_view, 5> fields{"specimen", "face", "conditions", "polarity", "replicate"};
constexpr int largest_replicate = 1000;

Error wrong(std::string what, std::string remedy) {
    return {Fault::bad_input, std::move(what), "", std::move(remedy)};
}

std::optional<int> replicate_of(std::string_view word) {
    int number = 0;
    const auto [end, error] = std::from_chars(word.data(), word.data() + word.size(), number);
    if (error != std::errc{} || end != word.data() + word.size() || number < 1 ||
        number > largest_replicate || word[0] == '+')
        return std::nullopt;
    return number;
}

}  // namespace

std::optional<Polarity> polarity_named(std::string_view word) {
    std::string lower(word);
    std::ranges::transform(lower, lower.begin(), [](char c) {
        return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
    });
    for (const char* name : {"+", "plus", "pos", "positive", "p"})
        if (lower == name) return Polarity::positive;
    for (const char* name : {"-", "minus", "neg", "negative", "n"})
        if (lower == name) return Polarity::negative;
    return std::nullopt;
}

Result<NamePattern> NamePattern::parse(std::string_view text) {
    NamePattern pattern;
    auto& parts = pattern.parts_;
    if (text.find('/') != std::string_view::npos)
        return wrong(fmt::format("'{}' holds a '/'", text),
                     "Give the names of files; the folder is 'folder'");
    while (!text.empty()) {
        const bool follows = !parts.empty() && parts.back().kind != Part::Kind::literal;
        if (text[0] == '{' || text[0] == '*') {
            if (follows)
                return wrong(
                    fmt::format("nothing stands before '{}' to tell where the part before it ends", text),
                    "Put what stands between them in the names there, for instance a '-'");
        }
        if (text[0] == '*') {
            parts.push_back({Part::Kind::anything, ""});
            text.remove_prefix(1);
        } else if (text[0] == '{') {
            const std::size_t close = text.find('}');
            const std::string field(text.substr(1, close == std::string_view::npos ? close : close - 1));
            if (close == std::string_view::npos || std::ranges::find(fields, field) == fields.end())
                return wrong(fmt::format("'{{{}' is no part of a name", field),
                             "There are {specimen}, {face}, {conditions}, {polarity}, {replicate}, and * for "
                             "anything");
            if (pattern.names(field))
                return wrong(fmt::format("{{{}}} stands in it twice", field), "Put * for the second one");
            parts.push_back({Part::Kind::field, field});
            text.remove_prefix(close + 1);
        } else {
            const std::size_t end = std::min(text.find_first_of("{*"), text.size());
            parts.push_back({Part::Kind::literal, std::string(text.substr(0, end))});
            text.remove_prefix(end);
        }
    }
    return pattern;
}

bool NamePattern::names(std::string_view field) const {
    return std::ranges::any_of(
        parts_, [&](const Part& part) { return part.kind == Part::Kind::field && part.text == field; });
}

/// Tries every length of every part, which names of files allow: they are short.
struct NamePattern::Search {
    static constexpr int most_steps = 100'000;

    const std::vector<Part>& parts;
    const std::function<bool(const Reading&)>& counts;
    std::set<Reading> found = {};
    Reading reading = {};
    int steps = 0;

    void from(std::size_t part, std::string_view rest) {
        if (++steps > most_steps || found.size() > 1) return;
        if (part == parts.size()) {
            if (rest.empty() && (!counts || counts(reading))) found.insert(reading);
            return;
        }
        const auto& [kind, text] = parts[part];
        if (kind == Part::Kind::literal) {
            if (rest.starts_with(text)) from(part + 1, rest.substr(text.size()));
            return;
        }
        for (std::size_t size = kind == Part::Kind::anything ? 0 : 1; size <= rest.size(); ++size)
            if (kind == Part::Kind::anything || take(text, rest.substr(0, size)))
                from(part + 1, rest.substr(size));
    }

    bool take(const std::string& field, std::string_view word) {
        if (field == "specimen") reading.specimen = word;
        if (field == "face") reading.face = word;
        if (field == "conditions") reading.conditions = word;
        if (field == "polarity") return (reading.polarity = polarity_named(word)).has_value();
        if (field == "replicate") return (reading.replicate = replicate_of(word)).has_value();
        return true;
    }
};

std::vector<NamePattern::Reading> NamePattern::readings(
    std::string_view name, const std::function<bool(const Reading&)>& counts) const {
    Search search{parts_, counts};
    search.from(0, name);
    return {search.found.begin(), search.found.end()};
}

}  // namespace ebbtide::plan
