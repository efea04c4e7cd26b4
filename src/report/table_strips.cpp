#include <algorithm>

#include "report/column_widths.hpp"
#include "report/picture_painter.hpp"
#include "report/printable_text.hpp"
#include "report/strips.hpp"

namespace ebbtide::report {
namespace {

constexpr double sizes[] = {7.5, 6.9, 6.3};  // of type: a table too wide for one is set in the next
constexpr double gap = 9;                    // between columns
constexpr double padding = 2.4;              // above and below the text of a row
constexpr double mark_width = 9.5;           // of the shape before a conformity
constexpr double widest_kept_word = 78, widest_kept_line = 150;

std::string words_of(const Cell& cell, const Column& column) {
    const std::string text = bound_together(cell.text, column.kind == Column::Kind::number);
    if (!cell.mark) return text;
    return std::string(plan::name_of(*cell.mark)) + (text.empty() ? "" : "\n" + text);
}

Anchor side_of(const Column& column) {
    return column.kind == Column::Kind::number ? Anchor::end : Anchor::start;
}

TextLook look_of(const Cell& cell, const Column& column, double size) {
    return {size, cell.muted ? Tint::muted : Tint::ink, cell.strong, side_of(column)};
}

/// Of a number, which may be broken before a bracket only.
double widest_part(std::string words, const TextLook& look, const Typesetter& typesetter) {
    if (const auto at = words.find(" ("); at != std::string::npos) words[at] = '\n';
    return typesetter.set(words, look).width() + 1;
}

std::vector<ColumnNeed> needs_of(const Table& table, const Typesetter& typesetter, double size) {
    std::vector<ColumnNeed> needs;
    for (std::size_t i = 0; i < table.columns.size(); ++i) {
        const Column& column = table.columns[i];
        const bool text = column.kind == Column::Kind::text, one_line = column.kind == Column::Kind::name;
        const TextLook head_look{size, Tint::muted, false, Anchor::start};
        const std::string head = bound_together(column.head, false);
        ColumnNeed need{6, 6, text};
        const auto ask = [&](double least, double wanted) {
            need.least = std::max(need.least, least);
            need.wanted = std::max({need.wanted, need.least, wanted});
        };
        ask(typesetter.widest_word(head, head_look) + 1,
            text ? typesetter.set(head, head_look).width() + 1 : 0);
        for (const auto& row : table.rows) {
            const std::string words = words_of(row[i], column);
            const TextLook look = look_of(row[i], column, size);
            const double mark = row[i].mark ? mark_width : 0;
            const double whole = typesetter.set(words, look).width() + 1 + mark;
            const double unbroken =
                text ? typesetter.widest_word(words, look) + 1 : widest_part(words, look, typesetter);
            const double word = std::min(widest_kept_word, unbroken) + mark;
            ask(one_line ? std::min(widest_kept_line, whole) : word, text || one_line ? whole : word);
        }
        needs.push_back(need);
    }
    return needs;
}

struct Grid {
    double size = 0;  ///< of the type
    std::vector<double> widths;
};

Grid grid_of(const Table& table, const Typesetter& typesetter) {
    const double room = text_width_pt - gap * static_cast<double>(table.columns.size() - 1);
    Grid grid;
    for (const double size : sizes) {
        const std::vector<ColumnNeed> needs = needs_of(table, typesetter, size);
        grid = {size, share_room(needs, room)};
        if (least_fits(needs, room)) break;
    }
    return grid;
}

struct SetCell {
    SetText text;
    double left;
    std::optional<plan::Conformity> mark;
};

struct SetRow {
    std::vector<SetCell> cells;
    [[nodiscard]] double height() const {
        double tallest = 0;
        for (const SetCell& cell : cells) tallest = std::max(tallest, cell.text.height());
        return tallest;
    }
    [[nodiscard]] std::size_t line_count() const {
        std::size_t lines = 0;
        for (const SetCell& cell : cells) lines = std::max(lines, cell.text.line_count());
        return lines;
    }
    [[nodiscard]] double line_height(std::size_t line) const {
        double tallest = 0;
        for (const SetCell& cell : cells)
            if (line < cell.text.line_count()) tallest = std::max(tallest, cell.text.line_height(line));
        return tallest;
    }
    void draw_marks(cairo_t* cairo, double x, double y, const Typesetter& typesetter) const {
        for (const SetCell& cell : cells)
            if (cell.mark)
                paint(cairo, mark_of(*cell.mark, 7), {x + cell.left - mark_width, y + 1.2}, typesetter);
    }
};

SetRow set_row(const Table& table, const std::vector<Cell>& cells, const Grid& grid,
               const Typesetter& typesetter) {
    SetRow row;
    double left = 0;
    for (std::size_t i = 0; i < cells.size(); ++i) {
        const double indent = cells[i].mark ? mark_width : 0;
        row.cells.push_back(
            {typesetter.set(words_of(cells[i], table.columns[i]),
                            look_of(cells[i], table.columns[i], grid.size), grid.widths[i] - indent),
             left + indent, cells[i].mark});
        left += grid.widths[i] + gap;
    }
    return row;
}

SetRow set_head(const Table& table, const Grid& grid, const Typesetter& typesetter) {
    SetRow row;
    double left = 0;
    for (std::size_t i = 0; i < table.columns.size(); ++i) {
        const TextLook look{grid.size, Tint::muted, false, side_of(table.columns[i])};
        row.cells.push_back(
            {typesetter.set(bound_together(table.columns[i].head, false), look, grid.widths[i]), left,
             std::nullopt});
        left += grid.widths[i] + gap;
    }
    return row;
}

void rule(cairo_t* cairo, double x, double y, Tint tint, double width) {
    set_colour(cairo, tint);
    cairo_set_line_width(cairo, width);
    cairo_move_to(cairo, x, y);
    cairo_line_to(cairo, x + text_width_pt, y);
    cairo_stroke(cairo);
}

std::shared_ptr<Strip> head_strip(const SetRow& row) {
    auto head = std::make_shared<Strip>();
    const double height = row.height();
    head->height = height + 2 * padding;
    head->keep_with_next = true;
    head->draw = [row, height](cairo_t* cairo, double x, double y) {
        for (const SetCell& cell : row.cells)  // heads stand on their rule
            cell.text.draw(cairo, {x + cell.left, y + padding + height - cell.text.height()});
        rule(cairo, x, y + height + 2 * padding, Tint::ink, 0.5);
    };
    return head;
}

Strip row_strip(const SetRow& row, const Typesetter& typesetter) {
    Strip strip;
    strip.height = row.height() + 2 * padding;
    strip.draw = [row, &typesetter](cairo_t* cairo, double x, double y) {
        row.draw_marks(cairo, x, y + padding, typesetter);
        for (const SetCell& cell : row.cells) cell.text.draw(cairo, {x + cell.left, y + padding});
        rule(cairo, x, y + row.height() + 2 * padding, Tint::rule, 0.4);
    };
    return strip;
}

/// One line of a row that is too tall for the foot of a page and is broken between its lines.
Strip line_strip(const SetRow& row, std::size_t line, const Typesetter& typesetter) {
    const bool last = line + 1 == row.line_count();
    const double above = line == 0 ? padding : 0;
    Strip strip;
    const double height = strip.height = row.line_height(line) + above + (last ? padding : 0);
    strip.draw = [row, line, above, height, last, &typesetter](cairo_t* cairo, double x, double y) {
        if (line == 0) row.draw_marks(cairo, x, y + above, typesetter);
        for (const SetCell& cell : row.cells)
            if (line < cell.text.line_count()) cell.text.draw_line(cairo, line, {x + cell.left, y + above});
        if (last) rule(cairo, x, y + height, Tint::rule, 0.4);
    };
    return strip;
}

/// A small table is not torn; of a large one neither the first nor the last row stands alone.
void keep_together(std::vector<Strip>& strips, std::size_t first_row, double tallest) {
    double height = 0;
    for (std::size_t i = first_row; i < strips.size(); ++i) height += strips[i].height;
    const bool small = height < 0.3 * tallest;
    for (std::size_t i = first_row; i + 1 < strips.size(); ++i)
        strips[i].keep_with_next = small || i == first_row || i + 2 == strips.size();
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
    const Grid grid = grid_of(table, typesetter);
    const std::shared_ptr<Strip> head = head_strip(set_head(table, grid, typesetter));
    strips.push_back(*head);
    strips.back().before = table.title.empty() ? 7 : 2;
    const std::size_t first_row = strips.size();
    for (const auto& cells : table.rows) {
        const SetRow row = set_row(table, cells, grid, typesetter);
        const bool whole = row.height() <= tallest / 3;
        for (std::size_t line = 0; line < (whole ? 1 : row.line_count()); ++line) {
            strips.push_back(whole ? row_strip(row, typesetter) : line_strip(row, line, typesetter));
            strips.back().head = head;
        }
    }
    keep_together(strips, first_row, tallest);
}

}  // namespace ebbtide::report
