#include "plan/level.hpp"

#include <gtest/gtest.h>

namespace ebbtide::plan {
namespace {

TEST(Level, IsReadAsAPersonWritesIt) {
    EXPECT_EQ(parse_level("0.1")->value, 0.1);
    EXPECT_EQ(parse_level("10%")->value, 0.1);
    EXPECT_EQ(parse_level(" 10 % ")->value, 0.1);
    EXPECT_EQ(parse_level("1/e")->value, 0.36787944117144233);
    EXPECT_EQ(parse_level("500 V")->value, 500);
    EXPECT_EQ(parse_level("0.5 kV")->value, 500);
    EXPECT_EQ(parse_level("500 V")->kind, Level::Kind::absolute_V);
}

TEST(Level, OutsideItsRangeIsRefusedWithTheValue) {
    for (const char* text : {"1", "1.5", "-0.1", "100%", "0 V", "-5 V", "abc", "", "1/3", "0,1", "nan", "inf",
                             "10 %%", "5 mV"}) {
        const auto level = parse_level(text);
        ASSERT_FALSE(level.ok()) << text;
        EXPECT_NE(level.error().what.find(text), std::string::npos) << text;
        EXPECT_FALSE(level.error().remedy.empty());
    }
}

TEST(Level, IsLabelledAsItIsSpokenOf) {
    EXPECT_EQ(parse_level("0.07")->label(), "7 %");
    EXPECT_EQ(parse_level("1/e")->label(), "1/e");
    EXPECT_EQ(parse_level("0.5 kV")->label(), "500 V");
}

}  // namespace
}  // namespace ebbtide::plan
