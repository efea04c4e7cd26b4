#include "report/sweep_plot.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <string>
#include <utility>
#include <vector>

#include "report/picture_file.hpp"

namespace ebbtide::report {
namespace {

SweepData sweep() {
    SweepData out;
    out.title = "Decay time of a sheet";
    out.subtitle = "hanging sheet";
    out.axis = "surface resistivity, ohm";
    out.decades = true;
    out.places = {1e9, 1e10, 1e11, 1e12};
    out.lines = {{"50 %", {0, 0.002, 0.02, 0.2}}, {"10 %", {0.0009, 0.009, 0.09, 0.9}}};
    out.limit_s = 0.5;
    out.limit_label = "limit";
    return out;
}

TEST(SweepPlot, DrawsALineForEachLevelAndTheLimitAcross) {
    const Picture picture = sweep_plot(sweep(), 440);
    std::size_t curves = 0, dashed = 0;
    for (const Shape& shape : picture.shapes)
        if (const auto* line = std::get_if<Polyline>(&shape)) {
            curves += line->points.size() > 2;
            dashed += line->dash == Dash::dashed;
            for (const Point& point : line->points) {
                EXPECT_GE(point.x, 0);
                EXPECT_LE(point.x, picture.width);
                EXPECT_GE(point.y, 0);
                EXPECT_LE(point.y, picture.height);
            }
        }
    EXPECT_EQ(curves, 2u);
    EXPECT_EQ(dashed, 1u);
    EXPECT_NE(picture.description.find("limit 0.500 s"), std::string::npos) << picture.description;
}

TEST(SweepPlot, LeavesOutATimeThatIsNone) {
    for (const Shape& shape : sweep_plot(sweep(), 440).shapes)
        if (const auto* line = std::get_if<Polyline>(&shape); line && line->width > 0.8) {
            EXPECT_GE(line->points.size(), 3u);
        }
}

TEST(SweepPlot, NamesNeighbouringLinesInTheirOrder) {
    SweepData close = sweep();
    close.lines = {{"50 %", {0.1, 0.1, 0.1, 0.20}}, {"1/e", {0.1, 0.1, 0.1, 0.21}}, {"10 %", {1, 1, 1, 1}}};
    std::vector<std::pair<double, std::string>> names;
    for (const Shape& shape : sweep_plot(close, 440).shapes)
        if (const auto* label = std::get_if<Label>(&shape))
            for (const SweepLine& line : close.lines)
                if (label->text == line.label) names.emplace_back(label->at.y, label->text);
    std::ranges::sort(names);
    ASSERT_EQ(names.size(), 3u);
    EXPECT_EQ(names[0].second, "10 %") << "the longest time stands highest";
    EXPECT_EQ(names[1].second, "1/e");
    EXPECT_EQ(names[2].second, "50 %");
    EXPECT_GT(names[2].first - names[1].first, 6) << "one does not cover the other";
}

TEST(PictureFile, IsOfTheKindThatItsNameSays) {
    const Picture picture = sweep_plot(sweep(), 440);
    const auto svg = picture_file(picture, "a.svg");
    ASSERT_TRUE(svg.ok());
    EXPECT_TRUE(svg->starts_with("<svg xmlns="));
    EXPECT_NE(svg->find("--ink:#1c2126"), std::string::npos) << "its colours are its own";
    EXPECT_TRUE(picture_file(picture, "a.png")->starts_with("\x89PNG"));
    EXPECT_TRUE(picture_file(picture, "a.pdf")->starts_with("%PDF"));
    EXPECT_FALSE(picture_file(picture, "a.gif").ok());
    EXPECT_TRUE(fault_of_picture_name("a.gif").has_value());
    EXPECT_FALSE(fault_of_picture_name("a.svg").has_value());
}

}  // namespace
}  // namespace ebbtide::report
