#include "report/strips.hpp"

#include <algorithm>

#include "report/picture_painter.hpp"

namespace ebbtide::report {
namespace {

constexpr double name_width_single = 112, name_width_pair = 74, pair_gap = 22;

void rule(cairo_t* cairo, double x, double y, double width, Tint tint) {
    set_colour(cairo, tint);
    cairo_set_line_width(cairo, width);
    cairo_move_to(cairo, x, y);
    cairo_line_to(cairo, x + text_width_pt, y);
    cairo_stroke(cairo);
}

struct Writer {
    std::vector<Strip>& strips;
    const Typesetter& typesetter;
    double tallest;

    void operator()(const Heading& block) const {
        const SetText text =
            typesetter.set(block.text, {lead_pt, Tint::ink, true, Anchor::start}, text_width_pt);
        Strip strip;
        strip.before = 20;
        strip.height = text.height() + 5;
        strip.keep_with_next = true;
        strip.outline = block.text;
        strip.draw = [text](cairo_t* cairo, double x, double y) { text.draw(cairo, {x, y}); };
        strips.push_back(std::move(strip));
    }

    void operator()(const Paragraph& block) const {
        const bool lead = block.look == Paragraph::Look::lead, note = block.look == Paragraph::Look::note;
        const TextLook look{lead   ? lead_pt
                            : note ? small_pt
                                   : body_pt,
                            note ? Tint::muted : Tint::ink, false, Anchor::start};
        // About 90 characters a line at most: longer lines are hard to read.
        add_lines(strips, typesetter.set(block.text, look, note ? 400.0 : 430.0), 0, note ? 4 : 6);
    }

    void operator()(const Facts& block) const {
        const bool pairs = block.columns > 1;
        const double column = pairs ? (text_width_pt - pair_gap) / 2 : text_width_pt;
        const double name_width = pairs ? name_width_pair : name_width_single;
        const std::size_t step = pairs ? 2 : 1;
        for (std::size_t i = 0; i < block.rows.size(); i += step) {
            std::vector<SetText> names, values;
            std::size_t lines = 0;
            for (std::size_t j = i; j < std::min(i + step, block.rows.size()); ++j) {
                names.push_back(typesetter.set(block.rows[j].name,
                                               {body_pt, Tint::muted, false, Anchor::start}, name_width - 8));
                values.push_back(typesetter.set(block.rows[j].value, {}, column - name_width));
                lines = std::max({lines, names.back().line_count(), values.back().line_count()});
            }
            for (std::size_t line = 0; line < lines; ++line) {
                double height = 0;
                for (const auto* texts : {&names, &values})
                    for (const SetText& text : *texts)
                        if (line < text.line_count()) height = std::max(height, text.line_height(line));
                Strip strip;
                strip.before = line == 0 ? (i == 0 ? 8 : 2.5) : 0;
                strip.height = height;
                strip.keep_with_next = line + 1 < lines && lines < 12;
                strip.draw = [names, values, line, column, name_width](cairo_t* cairo, double x, double y) {
                    for (std::size_t j = 0; j < names.size(); ++j) {
                        const double left = x + static_cast<double>(j) * (column + pair_gap);
                        if (line < names[j].line_count()) names[j].draw_line(cairo, line, {left, y});
                        if (line < values[j].line_count())
                            values[j].draw_line(cairo, line, {left + name_width, y});
                    }
                };
                strips.push_back(std::move(strip));
            }
        }
    }

    void operator()(const Table& block) const { add_table(strips, block, typesetter, tallest); }

    void operator()(const FigureRow& block) const {
        double height = 0, width = 0, caption_height = 0;
        std::vector<SetText> captions;
        for (const Figure& figure : block.figures) {
            height = std::max(height, figure.picture.height);
            width += figure.picture.width;
            captions.push_back(typesetter.set(figure.caption, {small_pt, Tint::muted, false, Anchor::start},
                                              std::min(400.0, figure.picture.width)));
            if (!figure.caption.empty())
                caption_height = std::max(caption_height, captions.back().height() + 4);
        }
        const double gap = block.figures.size() > 1
                               ? (text_width_pt - width) / static_cast<double>(block.figures.size() - 1)
                               : 0;
        Strip strip;
        strip.before = 12;
        strip.height = height + caption_height;
        strip.draw = [&block, captions, gap, height, &setter = typesetter](cairo_t* cairo, double x,
                                                                           double y) {
            for (std::size_t i = 0; i < block.figures.size(); ++i) {
                paint(cairo, block.figures[i].picture, {x, y}, setter);
                if (!block.figures[i].caption.empty()) captions[i].draw(cairo, {x, y + height + 4});
                x += block.figures[i].picture.width + gap;
            }
        };
        strips.push_back(std::move(strip));
    }

    void operator()(const Bullets& block) const {
        for (const std::string& item : block.items) {
            const SetText dash = typesetter.set("–", {body_pt, Tint::muted, false, Anchor::start});
            const std::size_t first = strips.size();
            add_lines(strips, typesetter.set(item, {}, 420), 10, &item == &block.items.front() ? 5 : 2);
            if (first == strips.size()) continue;
            strips[first].draw = [dash, rest = strips[first].draw](cairo_t* cairo, double x, double y) {
                dash.draw(cairo, {x, y});
                rest(cairo, x, y);
            };
        }
    }

    void operator()(const Statement& block) const {
        const std::size_t first = strips.size();
        const SetText word =
            typesetter.set(plan::name_of(block.conformity), {title_pt, Tint::ink, true, Anchor::start});
        const Picture mark = mark_of(block.conformity, 13);
        Strip top;
        top.before = 16;
        top.height = word.height() + 12;
        top.draw = [word, mark, &setter = typesetter](cairo_t* cairo, double x, double y) {
            rule(cairo, x, y, 1.2, Tint::ink);
            paint(cairo, mark, {x, y + 12 + word.height() / 2 - mark.height / 2 - 0.5}, setter);
            word.draw(cairo, {x + mark.width + 6, y + 12});
        };
        strips.push_back(std::move(top));
        add_lines(strips, typesetter.set(block.said_of, {lead_pt, Tint::ink, false, Anchor::start}, 460), 0,
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
    for (const Block& block : document.blocks) std::visit(Writer{strips, typesetter, tallest}, block);
    // A heading never stands alone at the end of a page, nor does the mark of the end.
    if (!strips.empty()) strips.back().keep_with_next = true;
    const SetText end = typesetter.set("End of " + document.id_and_revision,
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
