#include <algorithm>
#include <numeric>

#include "report/picture_painter.hpp"
#include "report/strips.hpp"

namespace ebbtide::report {
namespace {

constexpr double cell_size = 7.5;
constexpr double gap = 9;           // between columns
constexpr double padding = 2.4;     // above and below the text of a row
constexpr double mark_width = 9.5;  // of the shape before a conformity
constexpr double widest_kept_word = 78;

std::string words_of(const Cell& cell) {
    if (!cell.mark) return cell.text;
    return std::string(plan::name_of(*cell.mark)) + (cell.text.empty() ? "" : "\n" + cell.text);
}

TextLook look_of(const Cell& cell, const Column& column) {
    return {cell_size, cell.muted ? Tint::muted : Tint::ink, cell.strong,
            column.number ? Anchor::end : Anchor::start};
}

/// Widths of the columns, together the text width less the gaps: between the widest word and the whole text
/// of each column, as far as there is room.
std::vector<double> column_widths(const Table& table, const Typesetter& typesetter) {
    const std::size_t count = table.columns.size();
    std::vector<double> least(count, 12), whole(count, 12);
    const auto widen = [&](std::size_t i, const std::string& text, const TextLook& look, double extra) {
        least[i] =
            std::max(least[i], std::min(widest_kept_word, typesetter.widest_word(text, look) + 1) + extra);
        whole[i] = std::max(whole[i], typesetter.set(text, look).width() + 1 + extra);
    };
    for (std::size_t i = 0; i < count; ++i)
        widen(i, table.columns[i].head, {cell_size, Tint::muted, false, Anchor::start}, 0);
    for (const auto& row : table.rows)
        for (std::size_t i = 0; i < count; ++i)
            widen(i, words_of(row[i]), look_of(row[i], table.columns[i]), row[i].mark ? mark_width : 0);
    const double room = text_width_pt - gap * static_cast<double>(count - 1);
    const double sum_least = std::accumulate(least.begin(), least.end(), 0.0);
    const double sum_whole = std::accumulate(whole.begin(), whole.end(), 0.0);
    std::vector<double> widths(count);
    for (std::size_t i = 0; i < count; ++i) {
        if (sum_whole <= room)
            widths[i] = whole[i] * room / sum_whole;
        else if (sum_least >= room)
            widths[i] = least[i] * room / sum_least;
        else
            widths[i] = least[i] + (whole[i] - least[i]) * (room - sum_least) / (sum_whole - sum_least);
    }
    return widths;
}

struct SetRow {
    std::vector<SetText> texts;
    std::vector<double> lefts;
    std::vector<std::optional<plan::Conformity>> marks;
    [[nodiscard]] double height() const {
        double tallest = 0;
        for (const SetText& text : texts) tallest = std::max(tallest, text.height());
        return tallest;
    }
    [[nodiscard]] std::size_t line_count() const {
        std::size_t lines = 0;
        for (const SetText& text : texts) lines = std::max(lines, text.line_count());
        return lines;
    }
};

void rule(cairo_t* cairo, double x, double y, Tint tint, double width) {
    set_colour(cairo, tint);
    cairo_set_line_width(cairo, width);
    cairo_move_to(cairo, x, y);
    cairo_line_to(cairo, x + text_width_pt, y);
    cairo_stroke(cairo);
}

SetRow set_row(const Table& table, const std::vector<Cell>& cells, const std::vector<double>& widths,
               const Typesetter& typesetter) {
    SetRow row;
    double left = 0;
    for (std::size_t i = 0; i < widths.size(); ++i) {
        const double indent = cells[i].mark ? mark_width : 0;
        row.texts.push_back(
            typesetter.set(words_of(cells[i]), look_of(cells[i], table.columns[i]), widths[i] - indent));
        row.lefts.push_back(left + indent);
        row.marks.push_back(cells[i].mark);
        left += widths[i] + gap;
    }
    return row;
}

void draw_marks(cairo_t* cairo, const SetRow& row, double x, double y, const Typesetter& typesetter) {
    for (std::size_t i = 0; i < row.marks.size(); ++i)
        if (row.marks[i])
            paint(cairo, mark_of(*row.marks[i], 7), {x + row.lefts[i] - mark_width, y + 1.2}, typesetter);
}

std::shared_ptr<Strip> head_of(const Table& table, const std::vector<double>& widths,
                               const Typesetter& typesetter) {
    std::vector<Cell> cells;
    for (const Column& column : table.columns) cells.push_back({column.head, std::nullopt, true, false});
    const SetRow row = set_row(table, cells, widths, typesetter);
    auto head = std::make_shared<Strip>();
    const double height = row.height();
    head->height = height + 2 * padding;
    head->keep_with_next = true;
    head->draw = [row, height](cairo_t* cairo, double x, double y) {
        for (std::size_t i = 0; i < row.texts.size(); ++i)  // heads stand on their rule
            row.texts[i].draw(cairo, {x + row.lefts[i], y + padding + height - row.texts[i].height()});
        rule(cairo, x, y + height + 2 * padding, Tint::ink, 0.5);
    };
    return head;
}

}  // namespace

void add_table(std::vector<Strip>& strips, const Table& table, const Typesetter& typesetter, double tallest) {
    if (table.columns.empty() || table.rows.empty()) return;
    if (!table.title.empty()) {
        add_lines(strips,
                  typesetter.set(table.title, {body_pt, Tint::ink, true, Anchor::start}, text_width_pt), 0,
                  12);
        strips.back().keep_with_next = true;
    }
    const std::vector<double> widths = column_widths(table, typesetter);
    const std::shared_ptr<Strip> head = head_of(table, widths, typesetter);
    strips.push_back(*head);
    strips.back().before = table.title.empty() ? 10 : 3;
    for (const auto& cells : table.rows) {
        const SetRow row = set_row(table, cells, widths, typesetter);
        Strip strip;
        strip.head = head;
        if (row.height() <= tallest / 3) {
            strip.height = row.height() + 2 * padding;
            strip.draw = [row, &typesetter](cairo_t* cairo, double x, double y) {
                draw_marks(cairo, row, x, y + padding, typesetter);
                for (std::size_t i = 0; i < row.texts.size(); ++i)
                    row.texts[i].draw(cairo, {x + row.lefts[i], y + padding});
                rule(cairo, x, y + row.height() + 2 * padding, Tint::rule, 0.4);
            };
            strips.push_back(std::move(strip));
            continue;
        }
        // A row too tall for the foot of a page is broken between its lines.
        const std::size_t lines = row.line_count();
        for (std::size_t line = 0; line < lines; ++line) {
            Strip part;
            part.head = head;
            for (const SetText& text : row.texts)
                if (line < text.line_count()) part.height = std::max(part.height, text.line_height(line));
            const double above = line == 0 ? padding : 0, below = line + 1 == lines ? padding : 0;
            const double height = part.height += above + below;
            part.draw = [row, line, above, height, last = line + 1 == lines, &typesetter](
                            cairo_t* cairo, double x, double y) {
                if (line == 0) draw_marks(cairo, row, x, y + above, typesetter);
                for (std::size_t i = 0; i < row.texts.size(); ++i)
                    if (line < row.texts[i].line_count())
                        row.texts[i].draw_line(cairo, line, {x + row.lefts[i], y + above});
                if (last) rule(cairo, x, y + height, Tint::rule, 0.4);
            };
            strips.push_back(std::move(part));
        }
    }
    // The last row does not stand alone under a repeated head.
    if (table.rows.size() > 2 && strips.size() > 1) strips[strips.size() - 2].keep_with_next = true;
}

}  // namespace ebbtide::report
