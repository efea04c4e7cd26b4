#include "recording/layout.hpp"

#include <algorithm>
#include <array>
#include <map>
#include <optional>

#include "recording/bytes.hpp"
#include "recording/cells.hpp"
#include "recording/lines_above.hpp"

namespace ebbtide::recording {

namespace {

constexpr std::size_t lines_judged = 2000;

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

struct Judged {
    Format format{};
    std::size_t cells = 0;  // on a line of numbers
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
        }
    // Where channels end at different times most lines may be short; the headings tell the full width.
    for (const auto& [count, group] : groups)
        if (count > best.cells && group.lines > 1 && !group.words && lines_of_words.contains(count)) {
            best.cells = count;
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

// A line of numbers: the first column of numbers holds one, and so do half of them.
bool is_data(const std::vector<std::string_view>& cells, const Layout& layout) {
    if (cells.size() != layout.columns.size()) return false;
    std::size_t wanted = 0, values = 0, words = 0;
    bool first = false;
    for (std::size_t c = 0; c < cells.size(); ++c) {
        const SeenColumn& column = layout.columns[c];
        if (!column.holds_values() || column.sparse) continue;
        double value = 0;
        const CellKind kind = read_cell(cells[c], layout.decimal_sign, value);
        if (wanted == 0) first = kind != CellKind::text;
        ++wanted;
        values += is_value(kind) ? 1 : 0;
        words += kind == CellKind::text ? 1 : 0;
    }
    return wanted > 0 && first && values > 0 && words * 2 <= wanted;
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
    keep_metadata(above, data, layout);
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
