#include "recording/lines_above.hpp"

#include <algorithm>
#include <optional>
#include <string>

#include "recording/bytes.hpp"
#include "recording/cells.hpp"
#include "recording/headings.hpp"

namespace ebbtide::recording {

namespace {

constexpr std::size_t lines_kept = 500;
constexpr std::size_t lines_above_with_headings = 4;

std::string_view without_comment_sign(std::string_view line, char delimiter) {
    line = trimmed(line);
    if (!is_comment(line, delimiter)) return line;
    while (!line.empty() && (line[0] == '#' || line[0] == '%' || line[0] == ';' || line[0] == '/'))
        line.remove_prefix(1);
    return trimmed(line);
}

// Cells of a line of headings; blanks inside a heading ("Time [s]", "t / s") must not cut it when blanks
// stand between columns. Empty when the line does not fit the columns.
std::vector<std::string> heading_cells(std::string_view line, const Layout& layout) {
    line = without_comment_sign(line, layout.delimiter);
    const std::size_t most = layout.columns.size();
    std::size_t fewest = most;
    while (fewest > 1 && layout.columns[fewest - 1].holds == SeenColumn::Holds::nothing) --fewest;
    const auto fits = [fewest, most](const std::vector<std::string>& cells) {
        return cells.size() >= fewest && cells.size() <= most;
    };
    const auto split_at = [line](char delimiter) {
        std::vector<std::string_view> views;
        split_cells(line, delimiter, views);
        while (views.size() > 1 && views.back().empty()) views.pop_back();
        std::vector<std::string> cells;
        for (const std::string_view view : views) cells.push_back(readable(view));
        return cells;
    };
    std::vector<std::string> cells = split_at(layout.delimiter);
    if (fits(cells)) return cells;
    // Some oscilloscopes write the sample interval behind the headings, in columns that then stay empty.
    if (cells.size() > most && std::ranges::any_of(cells, [](const std::string& cell) {
            return lowered(cell) == "increment" || lowered(cell) == "sequence";
        }))
        return cells;
    if (layout.delimiter != ' ') return {};
    std::vector<std::string> merged;
    bool open = false;
    for (const std::string& cell : cells) {
        const bool joins = open || cell == "/" || cell[0] == '[' || cell[0] == '(';
        if (joins && !merged.empty())
            merged.back() += ' ' + cell;
        else
            merged.push_back(cell);
        open = cell == "/";
    }
    if (fits(merged)) return merged;
    for (const char delimiter : {'\t', ',', ';'})
        if (cells = split_at(delimiter); fits(cells) && cells.size() > 1) return cells;
    // Two blanks or more between headings of several words.
    cells.clear();
    for (std::string_view rest = line; !rest.empty();) {
        const std::size_t gap = rest.find("  ");
        cells.push_back(readable(trimmed(rest.substr(0, gap))));
        rest = gap == std::string_view::npos ? std::string_view{} : trimmed(rest.substr(gap));
    }
    return fits(cells) ? cells : std::vector<std::string>{};
}

bool are_units(const std::vector<std::string>& cells) {
    std::size_t units = 0;
    for (const std::string& cell : cells) {
        if (cell.empty() || cell == "-" || lowered(cell) == "sequence") continue;
        double value = 0;
        const bool bracketed = cell.size() > 1 && (cell[0] == '[' || cell[0] == '(');
        if (read_unit(cell) || bracketed)
            ++units;
        else if (read_cell(cell, '.', value) != CellKind::number)
            return false;
    }
    return units > 0;
}

MetadataLine metadata_of(std::uint64_t number, std::string_view text, char delimiter) {
    const std::string line = readable(without_comment_sign(text, delimiter));
    std::size_t at = std::string::npos;
    if (delimiter != ' ' && delimiter != '\0') at = line.find(delimiter);
    if (at == std::string::npos) at = line.find_first_of(":=;\t,");
    if (at == std::string::npos || at == 0) return {number, "", line};
    std::string value = line.substr(at + 1);
    while (!value.empty() && (value.back() == delimiter || value.back() == ' ')) value.pop_back();
    const auto bare = [](std::string_view part) {
        part = trimmed(part);
        if (part.size() >= 2 && part.front() == '"' && part.back() == '"')
            part = part.substr(1, part.size() - 2);
        return std::string(part);
    };
    std::string key = bare(line.substr(0, at));
    if (!key.empty() && key.back() == ':') key.pop_back();
    return {number, key, bare(value)};
}

// Some instruments write the metadata beside the first numbers, in columns of their own on the left.
void find_metadata_beside(const std::vector<Line>& data, Layout& layout) {
    if (layout.columns.size() < 3 || layout.columns[0].holds_values()) return;
    std::vector<std::string_view> cells;
    std::size_t without_key = 0;
    for (const Line& line : data) {
        split_cells(line.text, layout.delimiter, cells);
        if (cells.size() != layout.columns.size()) continue;
        double value = 0;
        if (read_cell(cells[0], layout.decimal_sign, value) != CellKind::text || cells[1].empty()) {
            ++without_key;
            continue;
        }
        if (layout.metadata.size() < lines_kept)
            layout.metadata.push_back({line.number, readable(cells[0]), readable(cells[1])});
    }
    // A column of states has a word on every line and is no list of keys.
    if (without_key == 0)
        std::erase_if(layout.metadata, [&](const MetadataLine& m) { return m.line >= data.front().number; });
}

}  // namespace

void find_headings(std::vector<Line>& above, Layout& layout) {
    std::optional<std::vector<std::string>> units, headings;
    std::uint64_t units_line = 0;
    std::size_t looked_at = 0;
    for (std::size_t i = above.size(); i-- > 0 && looked_at < lines_above_with_headings && !headings;
         ++looked_at) {
        std::vector<std::string> cells = heading_cells(above[i].text, layout);
        if (cells.empty()) continue;
        if (!units && are_units(cells)) {
            units = std::move(cells);
            units_line = above[i].number;
            above.erase(above.begin() + static_cast<std::ptrdiff_t>(i));
            continue;
        }
        std::size_t numbers = 0;
        for (const std::string& cell : cells) {
            double value = 0;
            numbers += is_value(read_cell(cell, layout.decimal_sign, value)) ? 1 : 0;
        }
        // "Points,1000" is metadata, "x-axis,1" above a row of units are headings.
        if (numbers > 0 && (!units || numbers == cells.size())) continue;
        // A single column may stand below any line of text; a sentence or "key: value" is no heading.
        if (layout.columns.size() == 1 &&
            (cells[0].size() > 40 || cells[0].find_first_of(":=") != std::string::npos))
            continue;
        headings = std::move(cells);
        above.erase(above.begin() + static_cast<std::ptrdiff_t>(i));
    }
    if (units && !headings) {
        // "Second,Volt" alone: the units are all the heading there is.
        headings = std::move(units);
        units.reset();
    }
    for (std::size_t c = 0; c < layout.columns.size(); ++c) {
        if (headings && c < headings->size()) layout.columns[c].heading = (*headings)[c];
        if (units && c < units->size()) layout.columns[c].unit = (*units)[c];
    }
    if (units && headings)
        for (std::size_t c = 0; c < std::min(units->size(), headings->size()); ++c)
            if (lowered((*headings)[c]) == "increment")
                layout.metadata.push_back({units_line, (*headings)[c], (*units)[c]});
    layout.headed = headings.has_value();
    layout.unit_row = units.has_value();
}

void keep_metadata(const std::vector<Line>& above, const std::vector<Line>& data, Layout& layout) {
    for (const Line& line : above)
        if (layout.metadata.size() < lines_kept)
            layout.metadata.push_back(metadata_of(line.number, line.text, layout.delimiter));
    find_metadata_beside(data, layout);
}

}  // namespace ebbtide::recording
