// Which bench checks stand behind a run.

#include "judge/bench_standing.hpp"

#include <gtest/gtest.h>

namespace ebbtide::judge {
namespace {

using Kind = plan::BenchCheck::Kind;

Instant at(double hour) {
    return parse_instant("2026-11-25T00:00:00Z").value() + Span::from_seconds(3600 * hour);
}

plan::BenchCheck check(Kind kind, double hour, bool good) {
    return {kind, "", at(hour), good, "TO", good ? "" : "standard off"};
}

plan::CheckLimits limits() {
    plan::CheckLimits out;
    out.valid_h = 8;
    return out;
}

std::string flags_of(const std::vector<plan::BenchCheck>& checks, double hour) {
    std::string names;
    for (const plan::Flag& flag : standing_flags(checks, limits(), at(hour)))
        names += std::string(names.empty() ? "" : " ") + std::string(plan::facts(flag.code).name);
    return names;
}

TEST(BenchStanding, IsGoodBehindAGoodOpeningCheckThatStillHolds) {
    EXPECT_EQ(flags_of({check(Kind::opening, 8, true)}, 9), "");
    EXPECT_EQ(flags_of({check(Kind::opening, 8, true)}, 16), "");
    EXPECT_EQ(flags_of({check(Kind::opening, 8, true)}, 16.1), "bench_check_stale");
    EXPECT_EQ(flags_of({check(Kind::opening, 8, true), check(Kind::closing, 17, true)}, 9), "");
}

TEST(BenchStanding, IsNoneBeforeTheFirstCheck) {
    EXPECT_EQ(flags_of({}, 9), "bench_check_stale");
    EXPECT_EQ(flags_of({check(Kind::opening, 10, true)}, 9), "bench_check_stale");
}

TEST(BenchStanding, HoldsRunsBeforeABadClosingCheckButNotThoseOfAnotherDay) {
    const std::vector<plan::BenchCheck> day{check(Kind::opening, 8, true), check(Kind::closing, 12, false)};
    EXPECT_EQ(flags_of(day, 9), "bench_check_held");
    // What comes after a failed closing check rests on a failed check.
    EXPECT_EQ(flags_of(day, 13), "bench_check_failed");
    std::vector<plan::BenchCheck> two = day;
    two.push_back(check(Kind::opening, 14, true));
    EXPECT_EQ(flags_of(two, 15), "");
    // An opening check that comes between is the next bracket's.
    EXPECT_EQ(flags_of({check(Kind::opening, 8, true), check(Kind::opening, 11, true),
                        check(Kind::closing, 12, false)},
                       9),
              "");
}

TEST(BenchStanding, NamesWhoLetWorkStart) {
    std::vector<plan::BenchCheck> checks{check(Kind::opening, 8, false)};
    EXPECT_EQ(standing_flags(checks, limits(), at(9)).front().consequence, plan::Consequence::void_run);
    checks.push_back({Kind::override_, "", at(8.5), false, "IM", "resistor replaced"});
    const auto flags = standing_flags(checks, limits(), at(9));
    ASSERT_EQ(flags.size(), 1u);
    EXPECT_EQ(flags.front().code, plan::FlagCode::bench_check_failed);
    EXPECT_EQ(flags.front().consequence, plan::Consequence::warn);
    EXPECT_NE(flags.front().message.find("IM let work start: resistor replaced"), std::string::npos)
        << flags.front().message;
}

TEST(BenchStanding, SaysWhyWorkMayNotStart) {
    EXPECT_EQ(
        reason_not_to_start(std::vector<plan::BenchCheck>{check(Kind::opening, 8, true)}, limits(), at(9)),
        "");
    EXPECT_NE(reason_not_to_start({}, limits(), at(9)), "");
}

TEST(BenchStanding, NamesACheckThatLiesAheadWhereNoOtherHolds) {
    const plan::BenchCheck ahead = check(Kind::opening, 12, true);
    const auto reason = [&](std::vector<plan::BenchCheck> before) {
        before.push_back(ahead);
        return reason_not_to_start(before, limits(), at(9));
    };
    for (const std::string& text : {reason({}), reason({check(Kind::opening, 0.5, true)})}) {
        EXPECT_NE(text.find("2026-11-25T12:00:00Z lies ahead of now"), std::string::npos) << text;
        EXPECT_NE(text.find("clock"), std::string::npos) << "and where that may come from";
    }
    EXPECT_EQ(reason({check(Kind::opening, 8, true)}), "") << "another one holds";
    EXPECT_EQ(reason_not_to_start(std::vector{ahead}, limits(), at(13)), "") << "it lies ahead no more";
    // A run that was recorded before a check is no riddle of clocks.
    EXPECT_EQ(standing_flags(std::vector{ahead}, limits(), at(9)).front().message.find("ahead"),
              std::string::npos);
}

}  // namespace
}  // namespace ebbtide::judge
