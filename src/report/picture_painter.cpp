#include "report/picture_painter.hpp"

#include <numbers>

namespace ebbtide::report {
namespace {

struct Painter {
    cairo_t* cairo;
    const Typesetter& typesetter;

    void trace(const std::vector<Point>& points) const {
        cairo_new_path(cairo);
        for (const Point& p : points) cairo_line_to(cairo, p.x, p.y);
    }
    void operator()(const Polyline& shape) const {
        constexpr double dashes[] = {4, 3};
        trace(shape.points);
        set_colour(cairo, shape.tint);
        cairo_set_line_width(cairo, shape.width);
        cairo_set_line_join(cairo, CAIRO_LINE_JOIN_ROUND);
        cairo_set_dash(cairo, dashes, shape.dash == Dash::dashed ? 2 : 0, 0);
        cairo_stroke(cairo);
        cairo_set_dash(cairo, dashes, 0, 0);
    }
    void operator()(const Area& shape) const {
        trace(shape.points);
        cairo_close_path(cairo);
        set_colour(cairo, shape.tint);
        cairo_fill(cairo);
    }
    void operator()(const Disc& shape) const {
        cairo_new_path(cairo);
        cairo_arc(cairo, shape.centre.x, shape.centre.y, shape.radius, 0, 2 * std::numbers::pi);
        set_colour(cairo, shape.filled ? shape.tint : Tint::paper);
        cairo_fill_preserve(cairo);
        set_colour(cairo, shape.tint);
        cairo_set_line_width(cairo, disc_stroke(shape.radius));
        cairo_stroke(cairo);
    }
    void operator()(const Label& shape) const {
        const SetText text =
            typesetter.set(shape.text, {shape.size, shape.tint, shape.strong, Anchor::start});
        const double back = shape.anchor == Anchor::start    ? 0
                            : shape.anchor == Anchor::middle ? text.width() / 2
                                                             : text.width();
        text.draw(cairo, {shape.at.x - back, shape.at.y - text.first_baseline()});
    }
};

}  // namespace

void paint(cairo_t* cairo, const Picture& picture, Point top_left, const Typesetter& typesetter) {
    cairo_save(cairo);
    cairo_translate(cairo, top_left.x, top_left.y);
    for (const Shape& shape : picture.shapes) std::visit(Painter{cairo, typesetter}, shape);
    cairo_restore(cairo);
}

}  // namespace ebbtide::report
