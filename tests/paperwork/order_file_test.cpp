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

TEST(OrderFile, HandsOnWhatTheReportPrints) {
    std::string text = changed(documents::order, "revision = 1", "revision = 4\nbench = \"bench.toml\"");
    text = changed(text, "address = \"Here\"", "address = \"Here\"\ncontact = \"c1\"\nlocation = \"Room 2\"");
    text = changed(text, "address = \"There\"", "address = \"There\"\ncontact = \"c2\"");
    text = changed(text, "[[item]]",
                   "[amendment]\nreplaces_revision = 3\nreplaces_issued = 2026-01-08\nreason = \"R\"\n"
                   "changes = [\"C\"]\n\n[[item]]");
    text =
        changed(text, "tested_to = 2026-01-06",
                "tested_to = 2026-01-06\nsampled = 2026-01-01\nreceived = 2026-01-02\nissued = 2026-01-09");
    text = changed(
        text, "tested_by = \"T\"",
        "tested_by = \"T\"\nauthorised_by = \"A\"\nauthorised_role = \"Head\"\n\n[sampling]\nby = \"B\"\n"
        "plan = \"P\"\n\n[remarks]\ndeviations = [\"d\"]\nexternal_providers = [\"e\"]\nopinions = [\"o\"]");
    text = changed(text, "description = \"film\"", "description = \"film\"\nlot = \"L\"");
    text = changed(text, "item = \"I\"", "item = \"I\"\ndirection = \"cross\"\nplace = \"middle\"");
    text = changed(text, "file = \"a.csv\"",
                   "file = \"a.csv\"\nsample_interval_s = 0.01\nchannels = { time = \"t\", specimen = \"s\", "
                   "electrode = \"e\", marker = \"m\" }");
    text = changed(text, "replicate = 1 }", "replicate = 2, set_aside = \"slipped\" }");
    const auto order = parse_order(text, "o.toml");
    ASSERT_TRUE(order.ok()) << order.error().text();
    EXPECT_EQ(order->title, "An order");
    EXPECT_EQ(order->revision, 4);
    EXPECT_EQ(order->bench_file, "bench.toml");
    EXPECT_EQ(order->laboratory.name, "Lab");
    EXPECT_EQ(order->laboratory.address, "Here");
    EXPECT_EQ(order->laboratory.contact, "c1");
    EXPECT_EQ(order->laboratory_location, "Room 2");
    EXPECT_EQ(order->customer.name, "Customer");
    EXPECT_EQ(order->customer.contact, "c2");
    EXPECT_EQ(order->method.edition, "1");
    EXPECT_EQ(order->specification.file, "specification.toml");
    EXPECT_EQ(order->sampled, (Date{2026, 1, 1}));
    EXPECT_EQ(order->received, (Date{2026, 1, 2}));
    EXPECT_EQ(order->tested_to, (Date{2026, 1, 6}));
    EXPECT_EQ(order->issued, (Date{2026, 1, 9}));
    EXPECT_EQ(order->tested_by, "T");
    EXPECT_EQ(order->authorised_by, "A");
    EXPECT_EQ(order->authorised_role, "Head");
    EXPECT_EQ(order->sampled_by, "B");
    EXPECT_EQ(order->sampling_plan, "P");
    EXPECT_EQ(order->deviations, std::vector<std::string>{"d"});
    EXPECT_EQ(order->external_providers, std::vector<std::string>{"e"});
    EXPECT_EQ(order->opinions, std::vector<std::string>{"o"});
    EXPECT_EQ(order->items[0].description, "film");
    EXPECT_EQ(order->items[0].lot, "L");
    EXPECT_EQ(order->items[0].condition_on_receipt, "clean");
    EXPECT_EQ(order->specimens[0].direction, "cross");
    EXPECT_EQ(order->specimens[0].place, "middle");
    EXPECT_EQ(order->specimens[0].state, "as received");
    EXPECT_EQ(order->conditions[0].relative_humidity_percent, 12);
    EXPECT_EQ(order->conditions[0].temperature_C, 23);
    const plan::PlannedRecording& recording = order->recordings[0];
    EXPECT_EQ(recording.file, "a.csv");
    EXPECT_EQ(recording.sample_interval_s, 0.01);
    EXPECT_EQ(recording.channels.time, "t");
    EXPECT_EQ(recording.channels.specimen, "s");
    EXPECT_EQ(recording.channels.electrode, "e");
    EXPECT_EQ(recording.channels.marker, "m");
    EXPECT_EQ(recording.runs[0].key.replicate, 2);
    EXPECT_EQ(recording.runs[0].set_aside, "slipped");
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
    EXPECT_TRUE(refused(with("tested_to = 2026-01-06", "tested_to = 2026-01-06\nsampled = 2026-01-07"),
                        "before sampled, 2026-01-07"));
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
