// What is wrong with a recording is told with its line and column, and nothing is mended in silence.

#include <gtest/gtest.h>

#include "recording/reading.hpp"

namespace ebbtide::recording {

using testing_support::read;
using testing_support::Reading;
using Kind = trace::Notice::Kind;
using Numbers = std::vector<double>;

namespace {

std::string steady(int lines, double step_s = 0.5) {
    std::string text = "time_s,voltage_V\n";
    for (int i = 0; i < lines; ++i) text += std::to_string(i * step_s) + "," + std::to_string(100 - i) + "\n";
    return text;
}

}  // namespace

TEST(ReadingFaults, SkipsTheSampleOfACellThatHoldsNoNumberAndSaysWhere) {
    for (const char* cell :
         {"nan", "NaN", "-inf", "inf", "1e400", "", "n/a", "OVLD", "---", "1.5x", "1,5", "0x10", "--1"}) {
        const Reading r = read(std::string("t [s];U [V]\n0;3\n1;") + cell + "\n2;1.5\n3;1.25\n");
        ASSERT_FALSE(r.error) << cell << r.error->text();
        EXPECT_EQ(r.specimen().value, (Numbers{3, 1.5, 1.25})) << cell;
        EXPECT_EQ(r.specimen().time_s, (Numbers{0, 2, 3})) << cell;
        ASSERT_EQ(r.count(Kind::value_missing), 1u) << cell;
        const trace::Notice& notice = r.first(Kind::value_missing);
        EXPECT_EQ(notice.line, 3u);
        EXPECT_EQ(notice.column, 2);
        EXPECT_EQ(notice.time_s, 0);
        EXPECT_NE(notice.text.find(*cell == '\0' ? "empty" : cell), std::string::npos) << notice.text;
    }
}
TEST(ReadingFaults, SkipsALineWhoseTimeIsNoNumber) {
    const Reading r = read("t [s],U [V],RH [%]\n0,3,12\nnan,2,12\n2,1,12\n");
    ASSERT_FALSE(r.error);
    EXPECT_EQ(r.specimen().time_s, (Numbers{0, 2}));
    ASSERT_EQ(r.count(Kind::value_missing), 1u);
    EXPECT_EQ(r.first(Kind::value_missing).column, 1);
}
TEST(ReadingFaults, KeepsTheOtherChannelsOfALineWithOneBadCell) {
    const Reading r = read("t [s],U [V],RH [%]\n0,3,12\n1,nan,13\n2,1,14\n");
    ASSERT_FALSE(r.error);
    EXPECT_EQ(r.only(trace::Quantity::relative_humidity).value, (Numbers{12, 13, 14}));
    EXPECT_EQ(r.specimen().value, (Numbers{3, 1}));
}
TEST(ReadingFaults, CountsAlikeFaultsInsteadOfListingThem) {
    std::string text = "t [s],U [V]\n0,1\n";
    for (int i = 1; i < 500; ++i) text += std::to_string(i) + (i % 2 == 0 ? ",1\n" : ",nan\n");
    const Reading r = read(text);
    EXPECT_EQ(r.count(Kind::value_missing), 250u);
    EXPECT_LE(r.notices.size(), 3u);
    EXPECT_EQ(r.first(Kind::value_missing).line, 3u);
}
TEST(ReadingFaults, TellsOfALineThatEndsEarly) {
    const Reading r = read("t [s],U [V],V2 [mA]\n0,3,1\n1\n2,1,1\n3,1,1\n");
    ASSERT_FALSE(r.error);
    EXPECT_EQ(r.specimen().time_s, (Numbers{0, 2, 3}));
    EXPECT_NE(r.first(Kind::value_missing).text.find("ends before"), std::string::npos);
}
TEST(ReadingFaults, TakesNothingFromALineWithACellTooMany) {
    const Reading r = read("t [s],U [V]\n0,3\n1,5,2\n2,1\n3,1\n");
    ASSERT_FALSE(r.error);
    EXPECT_EQ(r.specimen().time_s, (Numbers{0, 2, 3}));
    EXPECT_EQ(r.first(Kind::value_missing).line, 3u);
    EXPECT_EQ(r.first(Kind::value_missing).column, 3);
}
TEST(ReadingFaults, TellsOfAGapInTime) {
    std::string text = steady(20);
    text += "30.0,80\n30.5,79\n";
    const Reading r = read(text);
    ASSERT_EQ(r.count(Kind::time_gap), 1u);
    EXPECT_EQ(r.first(Kind::time_gap).line, 22u);
    EXPECT_EQ(r.first(Kind::time_gap).time_s, 9.5);
    EXPECT_NE(r.first(Kind::time_gap).text.find("20.5 s"), std::string::npos);
    EXPECT_EQ(r.segments.size(), 1u);
}
TEST(ReadingFaults, GetsUsedToALongerStepInsteadOfTellingForEver) {
    std::string text = steady(100, 0.001);
    for (int i = 1; i < 500; ++i) text += std::to_string(i) + ",50\n";
    const Reading r = read(text);
    EXPECT_GE(r.count(Kind::time_gap), 1u);
    EXPECT_LT(r.count(Kind::time_gap), 50u);
}
TEST(ReadingFaults, StartsASegmentWhereTimeRunsBackwardsAndTells) {
    const Reading r = read(steady(10) + "3.25,50\n3.75,49\n4.25,48\n");
    ASSERT_EQ(r.segments.size(), 2u);
    EXPECT_EQ(r.specimen(1).time_s, (Numbers{3.25, 3.75, 4.25}));
    ASSERT_EQ(r.count(Kind::time_backwards), 1u);
    EXPECT_EQ(r.first(Kind::time_backwards).line, 12u);
    EXPECT_EQ(r.first(Kind::time_backwards).column, 1);
}
TEST(ReadingFaults, DoesNotCallARestartOfTimeAFault) {
    const Reading r = read(steady(10) + "0.0,50\n0.5,49\n1.0,48\n");
    ASSERT_EQ(r.segments.size(), 2u);
    EXPECT_EQ(r.count(Kind::time_backwards), 0u);
}
TEST(ReadingFaults, KeepsSamplesAtEqualTimesAndTells) {
    const Reading r = read("t [s],U [V]\n0,3\n1,2\n1,1.9\n2,1\n");
    ASSERT_FALSE(r.error);
    EXPECT_EQ(r.specimen().value, (Numbers{3, 2, 1.9, 1}));
    ASSERT_EQ(r.count(Kind::time_repeated), 1u);
    EXPECT_EQ(r.first(Kind::time_repeated).line, 4u);
}
TEST(ReadingFaults, ReadsTimeThatOnlyRunsBackwardsAsFaultsNotAsARecording) {
    const Reading r = read("t [s],U [V]\n5,1\n4,2\n3,3\n2,4\n1,5\n0,6\n");
    ASSERT_FALSE(r.error);
    for (const auto& segment : r.segments) EXPECT_EQ(segment.channels[0].value.size(), 1u);
}

// ---- the last line ----

TEST(ReadingFaults, LeavesOutALastLineThatMissesACell) {
    for (const char* cut : {"1.5", "1.5,", "1"}) {
        const Reading r = read(std::string("t [s],U [V]\n0.0,3.0\n0.5,2.0\n1.0,1.0\n") + cut);
        ASSERT_FALSE(r.error);
        EXPECT_EQ(r.specimen().value, (Numbers{3, 2, 1})) << cut;
        ASSERT_EQ(r.count(Kind::torn_last_line), 1u) << cut;
        EXPECT_EQ(r.first(Kind::torn_last_line).line, 5u);
    }
}
TEST(ReadingFaults, LeavesOutALastLineWhoseNumberLostDigits) {
    for (const char* cut : {"1.5,12.", "1.5,12.1", "1.5,1", "1.5,-"}) {
        const Reading r = read(std::string("t [s],U [V]\n0.0,13.000\n0.5,12.750\n1.0,12.500\n") + cut);
        ASSERT_FALSE(r.error);
        EXPECT_EQ(r.specimen().value, (Numbers{13, 12.75, 12.5})) << cut;
        EXPECT_EQ(r.count(Kind::torn_last_line), 1u) << cut;
    }
}
TEST(ReadingFaults, KeepsAWholeLastLineWithoutALineEnd) {
    const Reading r = read("t [s],U [V]\n0.0,13.000\n0.5,12.750\n1.0,12.500");
    ASSERT_FALSE(r.error);
    EXPECT_EQ(r.specimen().value, (Numbers{13, 12.75, 12.5}));
    EXPECT_TRUE(r.notices.empty());
}
TEST(ReadingFaults, TellsOfZeroBytesWhereTheRecorderLostPower) {
    for (const std::size_t zeros : {1u, 300u, 3'000'000u}) {
        const Reading r = read(steady(400) + std::string(zeros, '\0'));
        ASSERT_FALSE(r.error) << r.error->text();
        EXPECT_EQ(r.specimen().value.size(), 400u);
        EXPECT_EQ(r.count(Kind::torn_last_line), 1u) << zeros;
    }
}

// ---- numbers at the edge ----

TEST(ReadingFaults, KeepsHugeNumbersAndTellsOfTheImpossible) {
    const Reading r = read("t [s],U [kV]\n0,1e300\n1,1e308\n2,-1e308\n3,4.9e-324\n");
    ASSERT_FALSE(r.error);
    // 1e308 kV is beyond the largest double in volts.
    EXPECT_EQ(r.specimen().value, (Numbers{1e300 * 1e3, 4.9e-324 * 1e3}));
    EXPECT_EQ(r.count(Kind::value_missing), 2u);
}
TEST(ReadingFaults, TellsOfTimesBeyondTheLargestNumber) {
    const Reading r = read("t [h],U [V]\n0,1\n1,2\n1e308,3\n2,4\n");
    ASSERT_FALSE(r.error);
    EXPECT_EQ(r.specimen().value, (Numbers{1, 2, 4}));
    EXPECT_EQ(r.count(Kind::value_missing), 1u);
}

}  // namespace ebbtide::recording
