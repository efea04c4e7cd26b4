#include "recording/layout.hpp"

#include <algorithm>
#include <array>
#include <map>
#include <optional>

#include <fmt/format.h>

#include "recording/bytes.hpp"
#include "recording/cells.hpp"
#include "recording/headings.hpp"

namespace ebbtide::recording {

namespace {

constexpr std::size_t lines_judged = 2000;
constexpr std::size_t metadata_kept = 500;
constexpr std::size_t lines_above_with_headings = 4;

struct Line {
    std::string_view text;
    std::uint64_t number = 0;
};

std::vector<Line> lines_of(std::string_view head, char line_end, bool complete) {
    std::vector<Line> lines;
    std::uint64_t number = 0;
    while (!head.empty() && lines.size() < lines_judged) {
        ++number;
        const std::size_t end = head.find(line_end);
        if (end == std::string_view::npos && !complete) break;
        const std::string_view text = head.substr(0, end);
        head.remove_prefix(end == std::string_view::npos ? head.size() : end + 1);
        if (!trimmed(text).empty()) lines.push_back({text, number});
    }
    return lines;
}

struct Format {
    char delimiter;
    char decimal_sign;
};
// In order of preference where the numbers cannot tell.
constexpr std::array formats = {Format{',', '.'},  Format{';', '.'}, Format{'\t', '.'}, Format{';', ','},
                                Format{'\t', ','}, Format{' ', '.'}, Format{' ', ','},  Format{',', ','},
                                Format{'\0', '.'}, Format{'\0', ','}};

bool is_value(CellKind kind) {
    return kind == CellKind::number || kind == CellKind::clock;
}

struct Judged {
    Format format{};
    std::size_t cells = 0;  // on a line of numbers
    std::size_t lines = 0;  // of that many cells
    double score = -1;
};

// Lines of one number of cells form a group; the format's score is that of its best group.
Judged judge(const std::vector<Line>& lines, Format format) {
    struct Group {
        double score = 0;
        std::size_t lines = 0;
        bool words = false;
    };
    std::map<std::size_t, Group> groups;
    std::map<std::size_t, std::size_t> lines_of_words;
    std::vector<std::string_view> cells;
    for (const Line& line : lines) {
        if (is_comment(line.text, format.delimiter)) continue;
        split_cells(line.text, format.delimiter, cells);
        std::size_t values = 0, words = 0;
        for (const std::string_view cell : cells) {
            double value = 0;
            const CellKind kind = read_cell(cell, format.decimal_sign, value);
            values += is_value(kind) ? 1 : 0;
            words += kind == CellKind::text ? 1 : 0;
        }
        if (values == 0) {
            if (words > 1) ++lines_of_words[cells.size()];
            continue;
        }
        Group& group = groups[cells.size()];
        // A word costs less than a number gains: a column of words is no fault, cells that fell apart are.
        group.score +=
            static_cast<double>(values) - 0.25 * static_cast<double>(std::min<std::size_t>(words, 3));
        group.lines += 1;
        group.words = group.words || words > 0;
    }
    Judged best;
    best.format = format;
    for (const auto& [count, group] : groups)
        if ((group.lines > 1 || !group.words) && group.score > best.score) {
            best.score = group.score;
            best.cells = count;
            best.lines = group.lines;
        }
    // Where channels end at different times most lines may be short; the headings tell the full width.
    for (const auto& [count, group] : groups)
        if (count > best.cells && group.lines > 1 && !group.words && lines_of_words.contains(count)) {
            best.cells = count;
            best.lines = group.lines;
        }
    return best;
}

// "5,05" below "5,55" is one column with a decimal comma, though it could be two columns of whole numbers.
// What tells: figures behind the comma that begin with 0; or one heading above, while the first column would
// not grow as time or an index does. Signs, blanks, points or two headings tell against it.
bool is_one_column_with_decimal_comma(const std::vector<Line>& lines) {
    bool leading_zero = false, grows = true;
    std::size_t seen = 0, headings = 0;
    double last = 0;
    std::vector<std::string_view> cells;
    for (const Line& line : lines) {
        split_cells(line.text, ',', cells);
        double value = 0;
        if (cells.empty() || read_cell(cells[0], '.', value) != CellKind::number) {
            if (seen == 0) headings = cells.size();
            continue;
        }
        if (cells.size() == 1) continue;
        if (cells.size() != 2 || line.text.find_first_of(". \t\"") != std::string_view::npos) return false;
        if (!std::ranges::all_of(cells[1], [](char c) { return c >= '0' && c <= '9'; })) return false;
        leading_zero = leading_zero || (cells[1].size() > 1 && cells[1][0] == '0');
        grows = grows && (seen == 0 || value > last);
        last = value;
        ++seen;
    }
    return seen > 1 && headings < 2 && (leading_zero || (headings == 1 && !grows));
}

Judged best_format(const std::vector<Line>& lines) {
    Judged best;
    for (const Format format : formats)
        if (const Judged judged = judge(lines, format); judged.score > best.score) best = judged;
    if (best.format.delimiter == ',' && best.cells == 2 && is_one_column_with_decimal_comma(lines))
        return judge(lines, {'\0', ','});
    if (best.cells == 1) best.format.delimiter = '\0';
    return best;
}

int decimals_in(std::string_view cell, char decimal_sign) {
    const std::size_t at = cell.find(decimal_sign);
    if (at == std::string_view::npos) return 0;
    int count = 0;
    for (std::size_t i = at + 1; i < cell.size() && cell[i] >= '0' && cell[i] <= '9'; ++i) ++count;
    return count;
}

// A line of the usual number of cells, at least one of them a value.
struct Row {
    std::vector<CellKind> kinds;
    std::vector<double> values;
    std::vector<int> decimals;
    std::size_t value_count = 0, word_count = 0;
    bool follows = false;  // directly upon the row before, no text between
};

std::vector<Row> rows_of(const std::vector<Line>& lines, std::size_t usual, const Layout& layout) {
    std::vector<Row> rows;
    std::map<std::pair<std::size_t, std::size_t>, std::size_t> shapes;
    std::vector<std::string_view> cells;
    bool follows = false;
    for (const Line& line : lines) {
        split_cells(line.text, layout.delimiter, cells);
        Row row;
        for (std::size_t c = 0; c < cells.size() && cells.size() == usual; ++c) {
            double value = 0;
            const CellKind kind = read_cell(cells[c], layout.decimal_sign, value);
            row.kinds.push_back(kind);
            row.values.push_back(value);
            row.decimals.push_back(decimals_in(cells[c], layout.decimal_sign));
            row.value_count += is_value(kind) ? 1 : 0;
            row.word_count += kind == CellKind::text ? 1 : 0;
        }
        row.follows = follows;
        follows = row.value_count > 0;
        if (!follows) continue;
        ++shapes[{row.value_count, row.word_count}];
        rows.push_back(std::move(row));
    }
    // "Cycle 2" among lines of two numbers is text: words where most lines have numbers.
    const auto usual_shape =
        std::ranges::max_element(shapes, {}, [](const auto& shape) { return shape.second; });
    if (usual_shape == shapes.end()) return rows;
    const auto [value_count, word_count] = usual_shape->first;
    for (std::size_t i = rows.size(); i-- > 0;)
        if (rows[i].value_count < value_count && rows[i].word_count > word_count) {
            if (i + 1 < rows.size()) rows[i + 1].follows = false;
            rows.erase(rows.begin() + static_cast<std::ptrdiff_t>(i));
        }
    return rows;
}

// What each column holds, from the lines with the usual number of cells.
void describe_columns(const std::vector<Line>& lines, std::size_t usual, Layout& layout) {
    struct Count {
        std::size_t filled = 0, numbers = 0, clocks = 0, steps = 0, up = 0, by_one = 0;
        std::optional<double> last;
        int decimals = 1000;
    };
    std::vector<Count> counts(usual);
    layout.columns.resize(usual);
    const std::vector<Row> rows = rows_of(lines, usual, layout);
    for (const Row& row : rows) {
        for (std::size_t c = 0; c < usual; ++c) {
            Count& count = counts[c];
            if (!row.follows) count.last.reset();
            const CellKind kind = row.kinds[c];
            if (kind == CellKind::empty || kind == CellKind::no_value) continue;
            ++count.filled;
            count.clocks += kind == CellKind::clock ? 1 : 0;
            if (kind != CellKind::number) continue;
            ++count.numbers;
            count.decimals = std::min(count.decimals, row.decimals[c]);
            const double value = row.values[c];
            if (count.last) {
                ++count.steps;
                count.up += value > *count.last ? 1 : 0;
                count.by_one += value == *count.last + 1 ? 1 : 0;
            }
            count.last = value;
        }
    }
    layout.fewest_decimals.assign(usual, 0);
    for (std::size_t c = 0; c < usual; ++c) {
        const Count& count = counts[c];
        SeenColumn& column = layout.columns[c];
        const auto most = [&count](std::size_t part) { return part > 0 && part * 5 >= count.filled * 4; };
        column.holds = count.filled == 0     ? SeenColumn::Holds::nothing
                       : most(count.numbers) ? SeenColumn::Holds::numbers
                       : most(count.clocks)  ? SeenColumn::Holds::clock_times
                                             : SeenColumn::Holds::words;
        column.sparse = count.filled * 2 < rows.size();
        column.increasing = count.steps > 0 && count.up * 20 >= count.steps * 19;
        column.counting = count.steps > 0 && count.by_one == count.steps;
        layout.fewest_decimals[c] = count.decimals == 1000 ? 0 : count.decimals;
    }
}

bool is_number_column(const SeenColumn& column) {
    return column.holds == SeenColumn::Holds::numbers || column.holds == SeenColumn::Holds::clock_times;
}

// A line of numbers: the first column of numbers holds one, and so do half of them.
bool is_data(const std::vector<std::string_view>& cells, const Layout& layout) {
    if (cells.size() != layout.columns.size()) return false;
    std::size_t wanted = 0, values = 0, words = 0;
    bool first = false;
    for (std::size_t c = 0; c < cells.size(); ++c) {
        const SeenColumn& column = layout.columns[c];
        if (!is_number_column(column) || column.sparse) continue;
        double value = 0;
        const CellKind kind = read_cell(cells[c], layout.decimal_sign, value);
        if (wanted == 0) first = kind != CellKind::text;
        ++wanted;
        values += is_value(kind) ? 1 : 0;
        words += kind == CellKind::text ? 1 : 0;
    }
    return wanted > 0 && first && values > 0 && words * 2 <= wanted;
}

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

// Headings and units from the nearest lines above the numbers that fit the columns; these lines leave
// `above`.
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
    if (layout.columns.size() < 3 || is_number_column(layout.columns[0])) return;
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
        if (layout.metadata.size() < metadata_kept)
            layout.metadata.push_back({line.number, readable(cells[0]), readable(cells[1])});
    }
    // A column of states has a word on every line and is no list of keys.
    if (without_key == 0)
        std::erase_if(layout.metadata, [&](const MetadataLine& m) { return m.line >= data.front().number; });
}

}  // namespace

Result<Layout> recognise_layout(std::string_view head, bool complete, const std::string& name) {
    Layout layout;
    if (head.find('\n') == std::string_view::npos && head.find('\r') != std::string_view::npos)
        layout.line_end = '\r';
    const std::vector<Line> lines = lines_of(head, layout.line_end, complete);
    const Error no_numbers{
        Fault::bad_input, "holds no columns of numbers", name,
        "A recording has lines of numbers with , ; tab or blanks between them, the voltage in "
        "one column and, where it was recorded, the time in another"};
    const Judged best = best_format(lines);
    if (best.cells == 0) return no_numbers;
    layout.delimiter = best.format.delimiter;
    layout.decimal_sign = best.format.decimal_sign;
    // A last line without its end may be cut and tells nothing about the columns, unless it is all there is.
    const bool may_be_cut = complete && lines.size() > 2 && head.back() != layout.line_end;
    describe_columns(may_be_cut ? std::vector<Line>(lines.begin(), lines.end() - 1) : lines, best.cells,
                     layout);

    std::vector<std::string_view> cells;
    std::size_t first = 0;
    for (; first < lines.size(); ++first) {
        if (is_comment(lines[first].text, layout.delimiter)) continue;
        split_cells(lines[first].text, layout.delimiter, cells);
        if (is_data(cells, layout)) break;
    }
    if (first == lines.size()) return no_numbers;
    layout.data_line = lines[first].number;
    layout.data_at = static_cast<std::size_t>(lines[first].text.data() - head.data());
    std::vector<Line> above(lines.begin(), lines.begin() + static_cast<std::ptrdiff_t>(first));
    const std::vector<Line> data(lines.begin() + static_cast<std::ptrdiff_t>(first), lines.end());
    find_headings(above, layout);
    for (const Line& line : above)
        if (layout.metadata.size() < metadata_kept)
            layout.metadata.push_back(metadata_of(line.number, line.text, layout.delimiter));
    find_metadata_beside(data, layout);
    std::size_t shown = 0;
    for (const Line& line : data) {
        split_cells(line.text, layout.delimiter, cells);
        if (cells.size() != layout.columns.size()) continue;
        for (std::size_t c = 0; c < cells.size(); ++c)
            if (!cells[c].empty() && layout.columns[c].first_cells.size() < 3)
                layout.columns[c].first_cells.push_back(readable(cells[c].substr(0, 40)));
        if (++shown == 3) break;
    }
    return layout;
}

}  // namespace ebbtide::recording
