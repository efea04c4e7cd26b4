// How steeply a material follows the air, as methods and orders state it.

#include "paperwork/sensitivity.hpp"

#include <gtest/gtest.h>

#include "paperwork/documents.hpp"

namespace ebbtide::paperwork {
namespace {

using documents::changed;
using documents::refused;

TEST(SensitivityTable, OfAMethodIsItsDefault) {
    const auto method = parse_method(documents::method, "m.toml");
    ASSERT_TRUE(method.ok()) << method.error().text();
    EXPECT_EQ(method->sensitivity.humidity_percent_per_decade, 12);
    EXPECT_EQ(method->sensitivity.temperature_C_per_decade, 30);
    EXPECT_EQ(method->sensitivity.source, "from memory");
}

TEST(SensitivityTable, OfAnItemLeavesOutWhatItDoesNotKnow) {
    const auto order = parse_order(documents::order, "o.toml");
    ASSERT_TRUE(order.ok()) << order.error().text();
    EXPECT_EQ(order->items[0].sensitivity.humidity_percent_per_decade, 14);
    EXPECT_FALSE(order->items[0].sensitivity.temperature_C_per_decade.has_value());
    EXPECT_EQ(order->items[0].sensitivity.source, "maker's study");
}

TEST(SensitivityTable, NeedsASourceAndOneFigure) {
    EXPECT_TRUE(refused(
        parse_order(changed(documents::order, ", source = \"maker's study\" }", " }"), "o.toml"), "source"));
    EXPECT_TRUE(
        refused(parse_order(changed(documents::order, "humidity_percent_per_decade = 14, source", "source"),
                            "o.toml"),
                "states neither humidity nor temperature"));
}

TEST(SensitivityTable, TakesNoSteepnessOfNought) {
    for (const char* wrong : {"0", "-12", "101"})
        EXPECT_TRUE(refused(parse_method(changed(documents::method, "humidity_percent_per_decade = 12",
                                                 std::string("humidity_percent_per_decade = ") + wrong),
                                         "m.toml"),
                            "humidity_percent_per_decade"))
            << wrong;
}

TEST(Hygrometer, CorrelationLiesBetweenMinusOneAndOne) {
    for (const char* wrong : {"-1.1", "1.5"})
        EXPECT_TRUE(refused(parse_bench(changed(documents::bench, "correlation = -0.5",
                                                std::string("correlation = ") + wrong),
                                        "b.toml"),
                            "correlation"))
            << wrong;
}

}  // namespace
}  // namespace ebbtide::paperwork
