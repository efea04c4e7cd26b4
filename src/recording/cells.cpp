#include "recording/cells.hpp"

#include <algorithm>
#include <array>
#include <cstring>
#include <string>

#include "recording/clock_time.hpp"
#include "recording/decimal.hpp"

namespace ebbtide::recording {

namespace {

bool is_blank(char c) {
    return c == ' ' || c == '\t';
}

// End of the cell that begins at `from`: the delimiter's place or the line's end.
std::size_t cell_end(std::string_view line, std::size_t from, char delimiter) {
    const auto ends = [delimiter](char c) { return delimiter == ' ' ? is_blank(c) : c == delimiter; };
    std::size_t i = from;
    while (i < line.size() && is_blank(line[i]) && !ends(line[i])) ++i;
    if (i < line.size() && line[i] == '"') {
        for (++i; i < line.size(); ++i) {
            if (line[i] != '"') continue;
            if (i + 1 < line.size() && line[i + 1] == '"')
                ++i;
            else
                break;
        }
        // A quote that is never closed holds nothing together.
        if (i >= line.size()) i = from;
    }
    while (i < line.size() && !ends(line[i])) ++i;
    return i;
}

std::string_view unquoted(std::string_view cell) {
    cell = trimmed(cell);
    if (cell.size() >= 2 && cell.front() == '"' && cell.back() == '"') cell = cell.substr(1, cell.size() - 2);
    return trimmed(cell);
}

bool stands_for_no_value(std::string_view cell) {
    static constexpr std::array<std::string_view, 27> words = {
        "nan",  "inf",  "infinity", "1.#qnan", "1.#inf",  "1.#ind",  "1.#j",   "n/a",      "na",
        "#n/a", "null", "none",     "ol",      "ovl",     "ovld",    "ovflow", "overflow", "overrange",
        "over", "err",  "error",    "invalid", "#value!", "#div/0!", "#num!",  "(null)",   "overload"};
    if (cell.size() > 12) return false;
    if (std::ranges::all_of(cell, [](char c) { return c == '-' || c == '*' || c == '?'; })) return true;
    std::string word;
    for (const char c : cell) word += static_cast<char>(c >= 'A' && c <= 'Z' ? c + ('a' - 'A') : c);
    if (word[0] == '+' || word[0] == '-') word.erase(0, 1);
    return std::ranges::find(words, word) != words.end();
}

}  // namespace

std::string_view trimmed(std::string_view text) {
    while (!text.empty() && is_blank(text.front())) text.remove_prefix(1);
    while (!text.empty() && (is_blank(text.back()) || text.back() == '\r')) text.remove_suffix(1);
    return text;
}

bool is_comment(std::string_view line, char delimiter) {
    line = trimmed(line);
    if (line.empty()) return false;
    return line[0] == '#' || line[0] == '%' || (line[0] == ';' && delimiter != ';') || line.starts_with("//");
}

void split_cells(std::string_view line, char delimiter, std::vector<std::string_view>& cells) {
    cells.clear();
    if (delimiter == ' ') line = trimmed(line);
    if (delimiter == '\0') {
        cells.push_back(unquoted(line));
        return;
    }
    for (std::size_t from = 0;;) {
        const std::size_t end = cell_end(line, from, delimiter);
        cells.push_back(unquoted(line.substr(from, end - from)));
        if (end >= line.size()) return;
        from = end + 1;
        if (delimiter == ' ')
            while (from < line.size() && is_blank(line[from])) ++from;
    }
}

CellKind read_cell(std::string_view cell, char decimal_sign, double& value) {
    if (cell.empty()) return CellKind::empty;
    const char first = cell[0];
    if ((first >= '0' && first <= '9') || first == '+' || first == '-' || first == decimal_sign) {
        std::array<char, 64> small;
        std::string large;
        char* copy = small.data();
        if (cell.size() + decimal_padding > small.size()) {
            large.resize(cell.size() + decimal_padding);
            copy = large.data();
        }
        std::memcpy(copy, cell.data(), cell.size());
        std::memset(copy + cell.size(), 0, decimal_padding);
        const char* p = copy;
        const NumberState state = read_decimal(p, decimal_sign, value);
        if (state != NumberState::none && p == copy + cell.size())
            return state == NumberState::number ? CellKind::number : CellKind::no_value;
        if (read_clock_time(cell)) return CellKind::clock;
    }
    return stands_for_no_value(cell) ? CellKind::no_value : CellKind::text;
}

}  // namespace ebbtide::recording
