#include <gtest/gtest.h>

#include "paperwork/documents.hpp"

namespace ebbtide::paperwork {
namespace {

using documents::changed;
using documents::line_of;
using documents::refused;

Result<plan::Order> with(std::string_view from, std::string_view to) {
    return parse_order(changed(documents::order, from, to), "o.toml");
}

const std::string second_run =
    "{ specimen = \"S1\", face = \"front\", conditions = \"dry\", polarity = \"-\" }";

}  // namespace

TEST(OrderFile, HandsOnThePlan) {
    const auto order = parse_order(documents::order, "o.toml");
    ASSERT_TRUE(order.ok()) << order.error().text();
    EXPECT_EQ(order->id, "o1");
    EXPECT_EQ(order->method.file, "method.toml");
    EXPECT_EQ(order->specification.edition, "1");
    EXPECT_EQ(order->decision_rule.agreed, "both, 2026-01-02");
    EXPECT_TRUE(order->bench_file.empty());
    EXPECT_EQ(order->tested_from, (Date{2026, 1, 5}));
    EXPECT_FALSE(order->issued.has_value());
    ASSERT_EQ(order->recordings.size(), 1u);
    EXPECT_EQ(std::to_string(order->recordings[0].line), line_of(documents::order, "[[recording]]"));
    ASSERT_EQ(order->recordings[0].runs.size(), 2u);
    EXPECT_EQ(order->recordings[0].runs[0].key.label(), "S1 front dry + 1");
    EXPECT_EQ(order->recordings[0].runs[1].key.label(), "S1 front dry - 1");
}

TEST(OrderFile, TimesAreInstants) {
    const auto order = parse_order(documents::order, "o.toml");
    ASSERT_TRUE(order.ok());
    EXPECT_EQ(iso_text(*order->conditions[0].conditioned_from), "2026-01-04T07:00:00Z");
    EXPECT_EQ(iso_text(*order->conditions[0].conditioned_to), "2026-01-05T08:30:00Z");
    EXPECT_TRUE(refused(with("2026-01-04T08:00:00+01:00", "2026-01-04T08:00:00"), "without a zone"));
    EXPECT_TRUE(refused(with("2026-01-05T08:30:00Z", "2026-01-05T08:30:00"), "is not a point in time"));
    EXPECT_TRUE(refused(with("2026-01-05T08:30:00Z", "2026-01-03T08:30:00Z"), "before it begins"));
}

TEST(OrderFile, WhatARunRefersToIsDescribed) {
    EXPECT_TRUE(refused(with("{ specimen = \"S1\"", "{ specimen = \"S2\""),
                        "o.toml:" + line_of(documents::order, "{ specimen") +
                            ": no [[specimen]] has the id 'S2'. Did you mean 'S1'?"));
    EXPECT_TRUE(refused(with("conditions = \"dry\"", "conditions = \"moist\""),
                        "no [[conditions]] has the id 'moist'"));
    EXPECT_TRUE(refused(with("item = \"I\"", "item = \"cloth of gold\""),
                        "no [[item]] has the id 'cloth of gold'. Describe it under [[item]]"));
}

TEST(OrderFile, NamesAreUnique) {
    const std::string again = "[[specimen]]\nid = \"S1\"\nitem = \"I\"\nstate = \"aged\"\n\n[[conditions]]";
    EXPECT_TRUE(refused(with("[[conditions]]", again), "two [[specimen]] have the id 'S1'"));
    EXPECT_TRUE(refused(with("[[recording]]",
                             "[[recording]]\nfile = \"a.csv\"\nruns = [{ specimen = \"S1\", "
                             "face = \"back\", conditions = \"dry\", polarity = \"+\" }]\n"
                             "[[recording]]"),
                        "the recording 'a.csv' stands above already"));
}

TEST(OrderFile, ARunStandsOnceUnlessItIsRepeatedForACause) {
    const std::string same = changed(second_run, "\"-\"", "\"+\"");
    EXPECT_TRUE(refused(with(second_run, same), "the run 'S1 front dry + 1' stands above already"));
    EXPECT_TRUE(refused(with(second_run, same), "retest_cause"));
    const auto retest = with(second_run, changed(same, " }", ", retest_cause = \"door opened\" }"));
    ASSERT_TRUE(retest.ok()) << retest.error().text();
    EXPECT_EQ(retest->recordings[0].runs[1].retest_cause, "door opened");
    EXPECT_TRUE(refused(with(second_run, changed(second_run, " }", ", retest_cause = \"door opened\" }")),
                        "repeats no run above it"));
}

TEST(OrderFile, PolarityIsASignOrAWord) {
    EXPECT_TRUE(with("polarity = \"-\"", "polarity = \"negative\"").ok());
    EXPECT_TRUE(refused(with("polarity = \"-\"", "polarity = \"minus\""), "one of '+', '-'"));
    EXPECT_TRUE(refused(with("polarity = \"-\"", "polarity = -1"), "it must be one of"));
    EXPECT_FALSE(refused(with("polarity = \"-\"", "polarity = -1"), "stands above already"));
}

TEST(OrderFile, DatesRunForward) {
    EXPECT_TRUE(
        refused(with("tested_to = 2026-01-06", "tested_to = 2026-01-04"), "before tested_from, 2026-01-05"));
    EXPECT_TRUE(refused(with("tested_to = 2026-01-06", "tested_to = 2026-01-06\nreceived = 2026-01-07"),
                        "before received, 2026-01-07"));
    EXPECT_TRUE(refused(with("tested_to = 2026-01-06", "tested_to = 2026-01-06\nissued = 2026-01-05"),
                        "'dates.issued' is 2026-01-05"));
    EXPECT_TRUE(refused(with("tested_to = 2026-01-06", "tested_to = 20260106"), "it must be a date"));
}

TEST(OrderFile, FilesStayInTheFolderOfTheOrder) {
    for (const char* file : {"/etc/passwd", "../a.csv", "x/../../a.csv", "..", "x/..", "\\\\server\\a.csv"})
        EXPECT_TRUE(
            refused(with("\"a.csv\"", "'" + std::string(file) + "'"), "not a file of the order's folder"))
            << file;
    EXPECT_TRUE(with("\"a.csv\"", "\"recordings/a..b.csv\"").ok());
}

TEST(OrderFile, AnOrderHasItemsSpecimensConditionsRecordingsAndRuns) {
    for (const char* table : {"[[item]]", "[[specimen]]", "[[conditions]]", "[[recording]]"}) {
        std::string text = documents::order;
        const std::size_t from = text.find(table);
        text.erase(from, std::min(text.find("\n[[", from), text.size()) - from);
        EXPECT_FALSE(parse_order(text, "o.toml").ok()) << table;
    }
    const std::size_t from = documents::order.find("runs = [");
    EXPECT_TRUE(
        refused(parse_order(documents::order.substr(0, from) + "runs = []\n", "o.toml"), "at least one"));
}

}  // namespace ebbtide::paperwork
