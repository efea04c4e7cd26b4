// Differences between two records of one order, in lines for a report.

#include <fmt/format.h>

#include <algorithm>
#include <cctype>

#include "work/amendment.hpp"
#include "work/record_differences.hpp"

namespace ebbtide::work {
namespace {

constexpr std::size_t lines_a_kind = 8, subjects_at_most = 10, line_at_most = 240;

std::string lowered(std::string text) {
    for (char& c : text) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
    return text;
}

/// Whether the text holds the word, not as part of another; a plural holds its singular.
bool speaks_of(const std::string& text, std::string word) {
    word = lowered(std::move(word));
    const auto part_of_word = [](char c) { return std::isalnum(static_cast<unsigned char>(c)) != 0; };
    const auto stands = [&](const std::string& wanted) {
        if (wanted.empty()) return false;
        for (std::size_t at = text.find(wanted); at != std::string::npos; at = text.find(wanted, at + 1)) {
            const std::size_t end = at + wanted.size();
            if ((at == 0 || !part_of_word(text[at - 1])) && (end == text.size() || !part_of_word(text[end])))
                return true;
        }
        return false;
    };
    return stands(word) ||
           (word.size() > 3 && word.ends_with('s') && stands(word.substr(0, word.size() - 1)));
}

/// Cut on a whole character of UTF-8.
std::string bounded(std::string text) {
    if (text.size() <= line_at_most) return text;
    std::size_t end = line_at_most;
    while (end > 0 && (static_cast<unsigned char>(text[end]) & 0xC0u) == 0x80u) --end;
    return text.substr(0, end) + " ...";
}

/// Subjects that the stated changes mention by no word, each once; what follows from something else is
/// counted by its kind.
std::vector<std::string> unnamed_subjects(const std::vector<KindOfDifference>& kinds,
                                          const std::vector<std::string>& stated) {
    std::string all_stated;
    for (const std::string& change : stated) all_stated += lowered(change) + "\n";
    std::vector<std::string> unnamed;
    for (const KindOfDifference& kind : kinds) {
        std::vector<std::string> subjects;
        for (const Difference& difference : kind.differences) {
            const auto known = [&](const std::vector<std::string>& list) {
                return std::ranges::find(list, difference.subject) != list.end();
            };
            const bool named = std::ranges::any_of(
                difference.words, [&](const std::string& word) { return speaks_of(all_stated, word); });
            if (!named && !known(subjects) && !known(unnamed)) subjects.push_back(difference.subject);
        }
        if (kind.follow && subjects.size() > 1) subjects = {fmt::format("{} {}", subjects.size(), kind.name)};
        unnamed.insert(unnamed.end(), subjects.begin(), subjects.end());
    }
    return unnamed;
}

}  // namespace

std::vector<std::string> differences_in_words(const nlohmann::json& was, const nlohmann::json& is,
                                              const std::vector<std::string>& stated) {
    const std::vector<KindOfDifference> kinds = record_differences(was, is);
    std::vector<std::string> lines;
    const std::vector<std::string> unnamed = unnamed_subjects(kinds, stated);
    if (!unnamed.empty()) {
        std::string line = "Named by none of the stated changes: ";
        for (std::size_t i = 0; i < std::min(unnamed.size(), subjects_at_most); ++i)
            line += (i == 0 ? "" : "; ") + bounded(unnamed[i]);
        if (unnamed.size() > subjects_at_most)
            line += fmt::format("; and {} more", unnamed.size() - subjects_at_most);
        lines.push_back(std::move(line));
    }
    for (const KindOfDifference& kind : kinds) {
        const std::size_t shown = std::min(kind.differences.size(), lines_a_kind);
        for (std::size_t i = 0; i < shown; ++i) lines.push_back(bounded(kind.differences[i].text));
        if (kind.differences.size() > shown)
            lines.push_back(fmt::format("... and {} more {}", kind.differences.size() - shown, kind.name));
    }
    if (lines.empty()) lines.push_back("No figure, statement or particular differs from the replaced report");
    return lines;
}

}  // namespace ebbtide::work
