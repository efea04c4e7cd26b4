#pragma once
// A drawing as a value: lines, areas, discs and words, in points, y downward. Plots are made once as
// pictures; the HTML writer turns them into SVG and the PDF writer paints them.

#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "plan/conformity.hpp"

namespace ebbtide::report {

/// The only colours there are. Meaning is never carried by the colour alone.
enum class Tint { ink, muted, rule, positive, negative, paper };

struct Colour {
    double red = 0, green = 0, blue = 0;  ///< 0 to 1
};
/// The colour on white paper.
[[nodiscard]] Colour colour_of(Tint tint);
/// "ink", "muted", ...: the name of the custom property in HTML.
[[nodiscard]] std::string_view name_of(Tint tint);

struct Point {
    double x = 0, y = 0;
};

enum class Dash { solid, dashed };
struct Polyline {
    std::vector<Point> points;
    Tint tint = Tint::ink;
    double width = 0.5;
    Dash dash = Dash::solid;
};
struct Area {
    std::vector<Point> points;
    Tint tint = Tint::ink;
};
struct Disc {
    Point centre;
    double radius = 2;
    Tint tint = Tint::ink;
    bool filled = true;  ///< open discs are painted with paper inside
};
enum class Anchor { start, middle, end };
struct Label {
    Point at;  ///< on the baseline
    std::string text;
    Tint tint = Tint::ink;
    Anchor anchor = Anchor::start;
    double size = 6.5;
    bool strong = false;
};
using Shape = std::variant<Polyline, Area, Disc, Label>;

struct Picture {
    double width = 0;
    double height = 0;
    std::string description;  ///< in words, for those who cannot see it
    std::vector<Shape> shapes;

    void line(Point from, Point to, Tint tint, double stroke = 0.5, Dash dash = Dash::solid) {
        shapes.emplace_back(Polyline{{from, to}, tint, stroke, dash});
    }
};

/// Width of the line around a disc.
[[nodiscard]] constexpr double disc_stroke(double radius) {
    return radius < 3 ? 0.6 : radius * 0.16;
}

/// Width of a text in points, estimated from the number of its characters; enough to keep labels apart.
[[nodiscard]] double estimated_width(std::string_view text, double size);
/// The text, cut with an ellipsis when it is estimated to be wider than `width`.
[[nodiscard]] std::string fitted(std::string_view text, double size, double width);

/// The shape of a conformity: filled circle, half circle (left half for the conditional pass, right half for
/// the conditional fail), filled square, open circle. Square picture with sides of `size`.
[[nodiscard]] Picture mark_of(plan::Conformity conformity, double size);

}  // namespace ebbtide::report
