#include "basis/instant.hpp"

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

namespace ebbtide {

TEST(Instant, ReadsUtcAndOffsetsAsTheSameInstant) {
    const auto utc = parse_instant("2026-03-14T09:26:53Z");
    const auto offset = parse_instant("2026-03-14T10:56:53+01:30");
    ASSERT_TRUE(utc.ok() && offset.ok());
    EXPECT_EQ(*utc, *offset);
    EXPECT_EQ(iso_text(*utc), "2026-03-14T09:26:53Z");
}

TEST(Instant, CountsSecondsSince1970) {
    // POSIX.1-2017, 4.16 Seconds Since the Epoch: the formula gives 1,000,000,000 for this time.
    EXPECT_EQ(parse_instant("2001-09-09T01:46:40Z")->ns, 1'000'000'000'000'000'000);
}

TEST(Instant, RefusesATimeWithoutAZone) {
    EXPECT_FALSE(parse_instant("2026-03-14T09:26:53").ok());
}

TEST(Instant, RefusesDaysThatTheCalendarDoesNotHave) {
    for (const char* text :
         {"2026-02-29", "2026-13-01", "2026-00-10", "26-01-01", "2026-1-1", "2026-01-01x", "-026-01-01"})
        EXPECT_FALSE(parse_date(text).ok()) << text;
    EXPECT_TRUE(parse_date("2024-02-29").ok());
}

RC_GTEST_PROP(Instant, TextReadsBackTheSameInstant, ()) {
    const Instant instant{
        *rc::gen::inRange<std::int64_t>(-9'000'000'000'000'000'000, 9'000'000'000'000'000'000)};
    RC_ASSERT(*parse_instant(iso_text(instant)) == instant);
}

}  // namespace ebbtide
