#include <fmt/format.h>

#include "basis/number_text.hpp"
#include "report/html_writer.hpp"
#include "report/printable_text.hpp"

namespace ebbtide::report {
namespace {

/// Hundredths of a point are finer than any printer.
std::string points_text(double points) {
    std::string text = fixed_text(points, 2);
    while (text.back() == '0') text.pop_back();
    if (text.back() == '.') text.pop_back();
    return text;
}

std::string path(const std::vector<Point>& points, bool closed) {
    std::string out;
    for (std::size_t i = 0; i < points.size(); ++i)
        out += fmt::format("{}{} {}", i == 0 ? "M" : "L", points_text(points[i].x), points_text(points[i].y));
    return closed ? out + "Z" : out;
}

struct ShapeWriter {
    std::string& out;

    void operator()(const Polyline& shape) const {
        out += fmt::format(R"svg(<path d="{}" fill="none" stroke="var(--{})" stroke-width="{}"{}/>)svg",
                           path(shape.points, false), name_of(shape.tint), points_text(shape.width),
                           shape.dash == Dash::dashed ? R"svg( stroke-dasharray="4 3")svg" : "");
    }
    void operator()(const Area& shape) const {
        out += fmt::format(R"svg(<path d="{}" fill="var(--{})"/>)svg", path(shape.points, true),
                           name_of(shape.tint));
    }
    void operator()(const Disc& shape) const {
        out += fmt::format(
            R"svg(<circle cx="{}" cy="{}" r="{}" fill="var(--{})" stroke="var(--{})" stroke-width="{}"/>)svg",
            points_text(shape.centre.x), points_text(shape.centre.y), points_text(shape.radius),
            name_of(shape.filled ? shape.tint : Tint::paper), name_of(shape.tint),
            points_text(disc_stroke(shape.radius)));
    }
    void operator()(const Label& shape) const {
        const char* anchor = shape.anchor == Anchor::start    ? "start"
                             : shape.anchor == Anchor::middle ? "middle"
                                                              : "end";
        out += fmt::format(
            R"svg(<text x="{}" y="{}" font-size="{}" text-anchor="{}" fill="var(--{})"{}>{}</text>)svg",
            points_text(shape.at.x), points_text(shape.at.y), points_text(shape.size), anchor,
            name_of(shape.tint), shape.strong ? R"svg( font-weight="600")svg" : "", escaped(shape.text));
    }
};

}  // namespace

std::string escaped(std::string_view text) {
    std::string out;
    for (const char c : printable(text)) {
        switch (c) {
            case '&':
                out += "&amp;";
                break;
            case '<':
                out += "&lt;";
                break;
            case '>':
                out += "&gt;";
                break;
            case '"':
                out += "&quot;";
                break;
            case '\'':
                out += "&#39;";
                break;
            default:
                out += c;
        }
    }
    return out;
}

std::string svg_of(const Picture& picture) {
    std::string out = fmt::format(R"svg(<svg viewBox="0 0 {0} {1}" width="{0}pt" height="{1}pt")svg",
                                  points_text(picture.width), points_text(picture.height));
    out += picture.description.empty()
               ? std::string(R"svg( aria-hidden="true">)svg")
               : fmt::format(R"svg( role="img" aria-label="{}">)svg", escaped(picture.description));
    for (const Shape& shape : picture.shapes) std::visit(ShapeWriter{out}, shape);
    return out + "</svg>";
}

}  // namespace ebbtide::report
