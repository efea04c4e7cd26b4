#include "basis/number_text.hpp"

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include <cmath>

namespace ebbtide {

TEST(NumberText, PrintsTheUncertaintyBehindTheLastDigits) {
    // JCGM 100:2008, 7.2.2: m = 100.02147(35) g with u = 0.35 mg.
    EXPECT_EQ(uncertain_text(100.02147, 0.00035), "100.02147(35)");
    EXPECT_EQ(uncertain_text(0.5123, 0.0031), "0.5123(31)");
    EXPECT_EQ(uncertain_text(12.3, 1.4), "12.3(1.4)");
    EXPECT_EQ(uncertain_text(123.4, 14), "123(14)");
}

TEST(NumberText, RoundsAnUncertaintyJustBelowAPowerOfTenUpward) {
    EXPECT_EQ(uncertain_text(1.0, 0.0998), "1.00(10)");
}

TEST(NumberText, KeepsTheDigitsInLineWhenTheUncertaintyExceedsTheValue) {
    EXPECT_EQ(uncertain_text(0.1, 1.2), "0.1 ± 1.2");
}

TEST(NumberText, PrintsAnExpandedUncertaintyInFull) {
    EXPECT_EQ(plus_minus_text(0.47, 0.04, "s"), "0.470 s ± 0.040 s");
    EXPECT_EQ(plus_minus_text(0.47, 0.0996, "s"), "0.47 s ± 0.10 s");
    EXPECT_EQ(plus_minus_text(12.34, 1.4, "V"), "12.3 V ± 1.4 V");
    EXPECT_EQ(plus_minus_text(1234.4, 140, "V"), "1234 V ± 140 V");
    EXPECT_EQ(plus_minus_text(0.0004712, 0.0000061, "s"), "0.0004712 s ± 0.0000061 s");
    EXPECT_EQ(plus_minus_text(0.47, 0.0, "s"), "0.4700 s");
    EXPECT_EQ(plus_minus_text(0.47, {}, "s"), "0.4700 s");
}

TEST(NumberText, RefusesWhatIsNotOneFiniteNumber) {
    for (const char* text : {"", "1,5", "nan", "inf", "1e400", "2x", " 1", "0x10", "--1", "+"})
        EXPECT_FALSE(parse_number(text)) << text;
    EXPECT_EQ(parse_number("+1.5"), 1.5);
}

TEST(NumberText, NeverPrintsMinusZero) {
    EXPECT_EQ(fixed_text(-0.0004, 2), "0.00");
}

RC_GTEST_PROP(NumberText, ShortestTextReadsBackTheSameDouble, (double value)) {
    RC_PRE(std::isfinite(value));
    RC_ASSERT(parse_number(shortest_text(value)) == value);
}

}  // namespace ebbtide
