// Tables of hand-copied decay times, as spreadsheets save them.

#include "work/transcript_table.hpp"

#include <gtest/gtest.h>

namespace {

using namespace ebbtide;
using work::read_transcript_table;
using work::TranscribedTime;

std::vector<TranscribedTime> rows_of(const std::string& table) {
    auto rows = read_transcript_table(table, "old.csv");
    EXPECT_TRUE(rows.ok()) << (rows.ok() ? "" : rows.error().text());
    return rows ? *rows : std::vector<TranscribedTime>();
}

std::string refusal(const std::string& table) {
    const auto rows = read_transcript_table(table, "old.csv");
    EXPECT_FALSE(rows.ok()) << table;
    return rows ? "" : rows.error().text();
}

void expect_says(const std::string& text, const std::string& part) {
    EXPECT_NE(text.find(part), std::string::npos) << "'" << part << "' is not in:\n" << text;
}

TEST(TranscriptTable, ReadsATableWithPointsAndCommas) {
    const auto rows = rows_of(
        "material,lot,tested,level,decay_s,u_decay_s,note\n"
        "Halyard cloth,Roll 4,2019-05-06,10%,0.412,0.02,\"damp, rainy day\"\n"
        "\n"
        "Halyard cloth,Roll 5,2019-05-07,1/e,0.198,,\n");
    ASSERT_EQ(rows.size(), 2u);
    EXPECT_EQ(rows[0].row, 2);
    EXPECT_EQ(rows[0].material, "Halyard cloth");
    EXPECT_EQ(rows[0].lot, "Roll 4");
    EXPECT_EQ(rows[0].tested, "2019-05-06");
    EXPECT_EQ(rows[0].level.value, 0.1);
    EXPECT_EQ(rows[0].decay_s, 0.412);
    EXPECT_EQ(rows[0].u_decay_s, 0.02);
    EXPECT_EQ(rows[0].note, "damp, rainy day");
    EXPECT_EQ(rows[1].row, 4) << "lines are counted as an editor counts them";
    EXPECT_FALSE(rows[1].u_decay_s.has_value()) << "not stated is not zero";
}

TEST(TranscriptTable, ReadsSemicolonsAndDecimalCommas) {
    const auto rows = rows_of(
        "Date;Product;Batch;Level (%);Decay time (ms);Side\r\n"
        "06.05.2019;Deck foam;12;10;412,5;top\r\n"
        "07.05.2019;Deck foam;12;0,5;1234;\r\n;;;;;\r\n");
    ASSERT_EQ(rows.size(), 2u);
    EXPECT_EQ(rows[0].tested, "2019-05-06");
    EXPECT_EQ(rows[0].level.value, 0.1);
    // 412.5 ms: the product of the double 412.5 and 0.001.
    EXPECT_DOUBLE_EQ(rows[0].decay_s, 0.4125);
    EXPECT_EQ(rows[0].face, "top");
    EXPECT_EQ(rows[1].level.value, 0.005);
    EXPECT_DOUBLE_EQ(rows[1].decay_s, 1.234);
}

TEST(TranscriptTable, ReadsVoltsAsLevels) {
    const auto rows = rows_of(
        "material\ttested\tlevel\tdecay_s\nFilm\t2019-05-06\t500 V\t2.5\nFilm\t2019-05-06\t0.5 kV\t2.5\n");
    ASSERT_EQ(rows.size(), 2u);
    for (const TranscribedTime& row : rows) {
        EXPECT_EQ(row.level.kind, plan::Level::Kind::absolute_V);
        EXPECT_EQ(row.level.value, 500);
    }
}

// A comma between thousands would make 1,234 s into 1.234 s.
TEST(TranscriptTable, NeverTakesACommaBetweenThousandsForADecimalComma) {
    const std::string text =
        refusal("material,tested,level,decay_s\nFilm,2019-05-06,10%,\"1,234\"\nFilm,2019-05-06,10%,0.5\n");
    expect_says(text, "old.csv:2");
    expect_says(text, "'1,234' is no number with a decimal point");
}

TEST(TranscriptTable, NamesEveryWrongCellAtOnce) {
    const std::string text = refusal(
        "material,tested,level,decay_s,u_decay_s\n"
        "Film,2019-05-06,10%,0.4,0.02\n"
        ",2019-05-06,10%,0.4,\n"
        "Film,03/04/2019,10%,0.4,\n"
        "Film,2019-02-30,10%,0.4,\n"
        "Film,2019-05-06,120%,0.4,\n"
        "Film,2019-05-06,0%,0.4,\n"
        "Film,2019-05-06,10%,O.4,\n"
        "Film,2019-05-06,10%,-0.4,\n"
        "Film,2019-05-06,10%,>60,\n"
        "Film,2019-05-06,10%,nan,\n"
        "Film,2019-05-06,10%,0.4,0\n"
        "Film,2019-05-06,10%,0.4,0.1,surplus\n");
    for (const char* part :
         {"old.csv:3: column 1 'material': '' names no material",
          "old.csv:4: column 2 'tested': '03/04/2019' is no day that can be told. Write 2026-03-14",
          "old.csv:5: column 2 'tested': '2019-02-30'", "old.csv:6: column 3 'level': '120%'",
          "old.csv:7: column 3 'level': '0%' is no decay level above zero",
          "old.csv:8: column 4 'decay_s': 'O.4' is no number", "old.csv:9: column 4 'decay_s': '-0.4'",
          "old.csv:10: column 4 'decay_s': '>60' is a bound", "old.csv:11: column 4 'decay_s': 'nan'",
          "old.csv:12: column 5 'u_decay_s': '0' is not above zero",
          "old.csv:13: has 6 cells under 5 headings"})
        expect_says(text, part);
    EXPECT_EQ(text.find("old.csv:2:"), std::string::npos) << "the good row is not blamed";
}

TEST(TranscriptTable, AsksForColumnsThatItNeedsAndRefusesThoseItDoesNotKnow) {
    expect_says(refusal("material,decay_s\nFilm,0.4\n"), "no column 'tested'");
    expect_says(refusal("material,decay_s\nFilm,0.4\n"), "no column 'level'");
    expect_says(refusal("material,tested,level,decay_s,colour\nFilm,2019-05-06,10%,0.4,red\n"),
                "column 5 'colour' is not known");
    expect_says(refusal("material,tested,level,decay time\nFilm,2019-05-06,10%,0.4\n"),
                "'decay time' states no unit of time");
    expect_says(refusal("material,product,tested,level,decay_s\nFilm,Film,2019-05-06,10%,0.4\n"),
                "columns 1 and 2 name the same");
    expect_says(refusal("material,tested,level,decay_s\n"), "no rows");
    expect_says(refusal(""), "holds nothing");
}

TEST(TranscriptTable, BringsTextsBackAsTheyStood) {
    const auto rows = rows_of(
        "material,tested,level,decay_s,note\n"
        "\"Cloth \"\"B\"\"\",2019-05-06,10%,0.4,'); DROP TABLE entry; --\n"
        "Sämisch ▲,2019-05-06,10%,0.4,\n");
    ASSERT_EQ(rows.size(), 2u);
    EXPECT_EQ(rows[0].material, "Cloth \"B\"");
    EXPECT_EQ(rows[0].note, "'); DROP TABLE entry; --");
    EXPECT_EQ(rows[1].material, "Sämisch ▲");
}

}  // namespace
