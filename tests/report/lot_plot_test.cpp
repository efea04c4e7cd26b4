// Plots of a lot show what is known of each specimen.

#include "report/lot_plot.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <vector>

namespace ebbtide::report {
namespace {

std::vector<stats::Observation> some_lot() {
    return {stats::exactly(0.2),  stats::exactly(0.3),      stats::exactly(0.25), stats::at_least(0.5),
            stats::at_least(0.5), stats::between(0.3, 0.4), stats::exactly(0.41)};
}

std::size_t count_discs(const Picture& picture, bool filled) {
    return static_cast<std::size_t>(std::ranges::count_if(picture.shapes, [&](const Shape& shape) {
        const auto* disc = std::get_if<Disc>(&shape);
        return disc != nullptr && disc->filled == filled;
    }));
}

bool has_label(const Picture& picture, const std::string& text) {
    return std::ranges::any_of(picture.shapes, [&](const Shape& shape) {
        const auto* label = std::get_if<Label>(&shape);
        return label != nullptr && label->text == text;
    });
}

bool within(const Picture& picture) {
    const auto inside = [&](const Point& p) {
        return std::isfinite(p.x) && std::isfinite(p.y) && p.x >= -1 && p.x <= picture.width + 1 &&
               p.y >= -1 && p.y <= picture.height + 1;
    };
    return std::ranges::all_of(picture.shapes, [&](const Shape& shape) {
        if (const auto* line = std::get_if<Polyline>(&shape))
            return std::ranges::all_of(line->points, inside);
        if (const auto* area = std::get_if<Area>(&shape)) return std::ranges::all_of(area->points, inside);
        if (const auto* disc = std::get_if<Disc>(&shape)) return inside(disc->centre);
        return inside(std::get<Label>(shape).at);
    });
}

TEST(ProbabilityPlot, ShowsADiscForEachTimeAndAnOpenOneForEachLowerBound) {
    const auto lot = some_lot();
    const auto fit = stats::fit_censored(lot, stats::Family::lognormal);
    const Picture picture = probability_plot(lot, fit, 0.6, MarkedBound{0.9, 0.9}, 360);
    EXPECT_EQ(count_discs(picture, true), 4u);
    EXPECT_EQ(count_discs(picture, false), 2u);
    for (const char* text : {"limit", "bound", "lognormal law", "50 %", "90 %"})
        EXPECT_TRUE(has_label(picture, text)) << text;
    EXPECT_TRUE(within(picture));
    EXPECT_NE(picture.description.find("7 specimens, 2 of them longer"), std::string::npos);
}

TEST(ProbabilityPlot, StandsWithoutALawAndWithOneSpecimen) {
    for (const auto& lot : std::vector<std::vector<stats::Observation>>{
             {stats::exactly(1)}, {stats::at_least(1), stats::at_least(1)}, {stats::at_most(1)}}) {
        const auto fit = stats::fit_censored(lot, stats::Family::lognormal);
        const Picture picture = probability_plot(lot, fit, 1000.0, {}, 360);
        EXPECT_FALSE(has_label(picture, "lognormal law"));
        EXPECT_FALSE(has_label(picture, "limit"));  // decades off: it would leave the times no room
        EXPECT_TRUE(within(picture));
    }
}

TEST(OcPlot, DrawsEachPlanAndMarksTheLotsThatMatter) {
    const OcCurve a{"by variables", {0.01, 0.05, 0.2}, {0.97, 0.6, 0.02}};
    const OcCurve b{"by attributes", {0.01, 0.05, 0.2}, {0.96, 0.7, 0.03}};
    const std::vector<OcCurve> curves{a, b};
    const std::vector<double> marked{0.02, 0.1};
    const Picture picture = oc_plot(curves, marked, 360);
    for (const char* text : {"– by variables", "-- by attributes", "2 %", "10 %"})
        EXPECT_TRUE(has_label(picture, text)) << text;
    EXPECT_TRUE(within(picture));
}

}  // namespace
}  // namespace ebbtide::report
