#include "report/strips.hpp"

#include <algorithm>

#include "report/picture_painter.hpp"
#include "report/printable_text.hpp"

namespace ebbtide::report {
namespace {

constexpr double name_width_single = 112, name_width_pair = 74, pair_gap = 22, fact_gap = 3;
constexpr double measure = 430;  // about 90 characters a line: longer lines are hard to read

void rule(cairo_t* cairo, double x, double y, double width, Tint tint) {
    set_colour(cairo, tint);
    cairo_set_line_width(cairo, width);
    cairo_move_to(cairo, x, y);
    cairo_line_to(cairo, x + text_width_pt, y);
    cairo_stroke(cairo);
}

constexpr double pair_width = (text_width_pt - pair_gap) / 2;

/// A stack of names and values, set.
struct FactColumn {
    struct Row {
        SetText name, value;
        double y;
    };
    std::vector<Row> rows;
    double height = 0, name_width = 0;

    void draw(cairo_t* cairo, double x, double y) const {
        for (const Row& row : rows) {
            row.name.draw(cairo, {x, y + row.y});
            row.value.draw(cairo, {x + name_width, y + row.y});
        }
    }
};

struct StripWriter {
    std::vector<Strip>& strips;
    const Typesetter& typesetter;
    double tallest;

    [[nodiscard]] FactColumn set_facts(const std::vector<Facts::Row>& rows, double name_width,
                                       double width) const {
        FactColumn column;
        column.name_width = name_width;
        for (const Facts::Row& row : rows) {
            if (!column.rows.empty()) column.height += fact_gap;
            SetText name =
                typesetter.set(row.name, {body_pt, Tint::muted, false, Anchor::start}, name_width - 8);
            SetText value = typesetter.set(row.value, {}, width - name_width);
            const double height = std::max(name.height(), value.height());
            column.rows.push_back({std::move(name), std::move(value), column.height});
            column.height += height;
        }
        return column;
    }

    /// One fact over the whole width, line by line, so that long ones can be broken over pages.
    void add_fact(const Facts::Row& row, bool first) const {
        const SetText name =
            typesetter.set(row.name, {body_pt, Tint::muted, false, Anchor::start}, name_width_single - 8);
        const SetText value = typesetter.set(row.value, {}, text_width_pt - name_width_single - 20);
        const std::size_t lines = std::max(name.line_count(), value.line_count());
        for (std::size_t line = 0; line < lines; ++line) {
            Strip strip;
            strip.before = line > 0 ? 0 : first ? 8 : fact_gap;
            for (const SetText* text : {&name, &value})
                if (line < text->line_count()) strip.height = std::max(strip.height, text->line_height(line));
            strip.keep_with_next = line + 1 < lines && lines < 12;
            strip.draw = [name, value, line](cairo_t* cairo, double x, double y) {
                if (line < name.line_count()) name.draw_line(cairo, line, {x, y});
                if (line < value.line_count()) value.draw_line(cairo, line, {x + name_width_single, y});
            };
            strips.push_back(std::move(strip));
        }
    }

    void operator()(const Heading& block) const {
        const SetText text =
            typesetter.set(block.text, {lead_pt, Tint::ink, true, Anchor::start}, text_width_pt);
        Strip strip;
        strip.before = 22;
        strip.height = text.height() + 2;
        strip.keep_with_next = true;
        strip.outline = block.text;
        strip.draw = [text](cairo_t* cairo, double x, double y) { text.draw(cairo, {x, y}); };
        strips.push_back(std::move(strip));
    }

    void operator()(const Paragraph& block) const {
        const bool note = block.look == Paragraph::Look::note;
        const TextLook look{note ? small_pt : body_pt, note ? Tint::muted : Tint::ink, false, Anchor::start};
        add_lines(strips, typesetter.set(block.text, look, measure), 0, note ? 4 : 6);
        if (block.text.ends_with(':')) strips.back().keep_with_next = true;  // it announces what follows
    }

    void operator()(const Facts& block) const {
        if (!block.beside.empty()) {
            const FactColumn left = set_facts(block.rows, name_width_pair, pair_width);
            const FactColumn right = set_facts(block.beside, name_width_pair, pair_width);
            const double height = std::max(left.height, right.height);
            if (height < tallest / 2) {  // side by side in one piece
                Strip strip;
                strip.before = 10;
                strip.height = height;
                strip.draw = [left, right](cairo_t* cairo, double x, double y) {
                    left.draw(cairo, x, y);
                    right.draw(cairo, x + pair_width + pair_gap, y);
                };
                strips.push_back(std::move(strip));
                return;
            }
        }
        for (const auto* rows : {&block.rows, &block.beside})
            for (const Facts::Row& row : *rows) add_fact(row, &row == &block.rows.front());
        if (block.rows.size() > 2 && strips.size() > 1) strips[strips.size() - 2].keep_with_next = true;
    }

    void operator()(const Table& block) const { add_table(strips, block, typesetter, tallest); }

    void operator()(const FigureRow& block) const {
        double width = 0;
        Strip strip;
        strip.before = 12;
        for (const Picture& picture : block.pictures) {
            strip.height = std::max(strip.height, picture.height);
            width += picture.width;
        }
        strip.keep_with_next = block.keep_with_next;
        const auto gaps = static_cast<double>(block.pictures.size() - 1);
        const double gap = gaps > 0 ? (text_width_pt - width) / gaps : 0;
        strip.draw = [&block, gap, &setter = typesetter](cairo_t* cairo, double x, double y) {
            for (const Picture& picture : block.pictures) {
                paint(cairo, picture, {x, y}, setter);
                x += picture.width + gap;
            }
        };
        strips.push_back(std::move(strip));
    }

    void operator()(const Bullets& block) const {
        for (const std::string& item : block.items) {
            const SetText dash = typesetter.set("–", {body_pt, Tint::muted, false, Anchor::start});
            const std::size_t first = strips.size();
            add_lines(strips, typesetter.set(bound_together(item, false), {}, 420), 10,
                      &item == &block.items.front() ? 5 : 2);
            if (first == strips.size()) continue;
            strips[first].draw = [dash, rest = strips[first].draw](cairo_t* cairo, double x, double y) {
                dash.draw(cairo, {x, y});
                rest(cairo, x, y);
            };
        }
    }

    void operator()(const Statement& block) const {
        const std::size_t first = strips.size();
        const SetText word = typesetter.set(block.word, {title_pt, Tint::ink, true, Anchor::start});
        const Picture mark = mark_of(block.conformity, 13);
        Strip top;
        top.before = 14;
        top.height = word.height() + 12;
        top.draw = [word, mark, &setter = typesetter](cairo_t* cairo, double x, double y) {
            rule(cairo, x, y, 1.2, Tint::ink);
            paint(cairo, mark, {x, y + 12 + word.height() / 2 - mark.height / 2 - 0.5}, setter);
            word.draw(cairo, {x + mark.width + 6, y + 12});
        };
        strips.push_back(std::move(top));
        add_lines(strips,
                  typesetter.set(block.said_of, {lead_pt, Tint::ink, false, Anchor::start}, text_width_pt), 0,
                  4);
        (*this)(Bullets{block.reasons, ""});
        Strip bottom;
        bottom.before = 10;
        bottom.height = 2;
        bottom.draw = [](cairo_t* cairo, double x, double y) { rule(cairo, x, y, 0.5, Tint::ink); };
        strips.push_back(std::move(bottom));
        for (std::size_t i = first; i + 1 < strips.size(); ++i) strips[i].keep_with_next = true;
    }
};

}  // namespace

void add_lines(std::vector<Strip>& strips, SetText text, double indent, double before) {
    const std::size_t lines = text.line_count();
    for (std::size_t line = 0; line < lines; ++line) {
        Strip strip;
        strip.before = line == 0 ? before : 0;
        strip.height = text.line_height(line);
        strip.keep_with_next = line + 1 < lines && (line == 0 || line + 2 == lines || lines <= 4);
        strip.draw = [text, line, indent](cairo_t* cairo, double x, double y) {
            text.draw_line(cairo, line, {x + indent, y});
        };
        strips.push_back(std::move(strip));
    }
}

std::vector<Strip> strips_of(const Document& document, const Typesetter& typesetter, double tallest) {
    std::vector<Strip> strips;
    const SetText title =
        typesetter.set(document.title, {title_pt, Tint::ink, true, Anchor::start}, text_width_pt);
    add_lines(strips, title, 0, 0);
    strips.front().outline = document.title;
    for (const Block& block : document.blocks) std::visit(StripWriter{strips, typesetter, tallest}, block);
    // A heading never stands alone at the end of a page, nor does the mark of the end.
    if (!strips.empty()) strips.back().keep_with_next = true;
    const SetText end = typesetter.set("End of r" + document.id_and_revision.substr(1),
                                       {body_pt, Tint::ink, true, Anchor::middle}, text_width_pt);
    Strip mark;
    mark.before = 22;
    mark.height = end.height() + 8;
    mark.draw = [end](cairo_t* cairo, double x, double y) {
        set_colour(cairo, Tint::ink);
        cairo_set_line_width(cairo, 0.8);
        cairo_move_to(cairo, x + text_width_pt / 2 - 24, y);
        cairo_line_to(cairo, x + text_width_pt / 2 + 24, y);
        cairo_stroke(cairo);
        end.draw(cairo, {x, y + 8});
    };
    strips.push_back(std::move(mark));
    return strips;
}

}  // namespace ebbtide::report
