// Groups under each other on one axis.

#include "report/compare_plot.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

namespace ebbtide::report {
namespace {

TEST(ComparePlot, ShowsEverySpecimenAndTheMeanOfEachGroup) {
    const std::vector<PlottedGroup> groups{
        {"before washing",
         {stats::exactly(0.2), stats::exactly(0.22), stats::exactly(0.21), stats::at_most(0.1)},
         0.205,
         {0.18, 0.23}},
        {"after washing",
         {stats::exactly(0.3), stats::at_least(0.5), stats::between(0.3, 0.4)},
         0.36,
         {{}, {}}},
        {"never measured", {stats::at_least(0.5)}, {}, {}}};
    const Picture picture = compare_plot(groups, 499);
    std::size_t filled = 0, open = 0;
    for (const Shape& shape : picture.shapes) {
        if (const auto* disc = std::get_if<Disc>(&shape)) (disc->filled ? filled : open) += 1;
        const auto inside = [&](const Point& p) {
            return std::isfinite(p.x) && std::isfinite(p.y) && p.x >= -1 && p.x <= picture.width + 1 &&
                   p.y >= -1 && p.y <= picture.height + 1;
        };
        if (const auto* line = std::get_if<Polyline>(&shape)) {
            EXPECT_TRUE(std::ranges::all_of(line->points, inside));
        }
        if (const auto* label = std::get_if<Label>(&shape)) {
            EXPECT_TRUE(inside(label->at)) << label->text;
        }
    }
    EXPECT_EQ(filled, 4u);
    EXPECT_EQ(open, 3u);
    const auto has = [&](const std::string& text) {
        return std::ranges::any_of(picture.shapes, [&](const Shape& shape) {
            const auto* label = std::get_if<Label>(&shape);
            return label != nullptr && label->text == text;
        });
    };
    EXPECT_TRUE(has("0.205 s (0.180 to 0.230)"));
    EXPECT_TRUE(has("no mean"));
    EXPECT_TRUE(has("after washing"));
}

}  // namespace
}  // namespace ebbtide::report
