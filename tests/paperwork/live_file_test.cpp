// Runs that were heard live: each in its place, the last correction holds, and nothing is guessed.

#include <gtest/gtest.h>

#include "paperwork/documents.hpp"
#include "plan/order.hpp"

namespace ebbtide::paperwork {
namespace {

plan::Order order() {
    plan::Order out;
    out.id = "TP-1";
    out.specimens = {{"W1", "", "", "", ""}, {"W2", "", "", "", ""}};
    out.conditions.emplace_back();
    out.conditions.back().id = "dry";
    return out;
}

std::string recording(const std::string& file, const std::string& specimen, const std::string& more = "") {
    return "[[recording]]\nfile = \"" + file + "\"\nrun = \"id-of-" + file + "\"\nspecimen = \"" + specimen +
           "\"\nface = \"front\"\nconditions = \"dry\"\npolarity = \"+\"\nreplicate = 1\n" + more;
}

Result<std::vector<HeardRun>> parsed(const std::string& runs, const std::string& id = "TP-1") {
    return parse_live("schema = \"ebbtide.live/1\"\norder = \"" + id + "\"\n" + runs, "live.toml", order());
}

std::string error_of(const std::string& runs, const std::string& id = "TP-1") {
    const auto result = parsed(runs, id);
    return result ? "" : result.error().text();
}

}  // namespace

TEST(LiveFile, LaysEachRunOnItsPlace) {
    const auto runs = parsed(recording("a", "W1") + recording("b", "W2", "counts = false\n") +
                             "[[recording]]\nfile = \"c\"\nrun = \"x\"\n");
    ASSERT_TRUE(runs) << runs.error().text();
    ASSERT_EQ(runs->size(), 3u);
    EXPECT_EQ(runs->at(0).recording.runs.at(0).key.label(), "W1 front dry + 1");
    EXPECT_EQ(runs->at(0).run, "id-of-a");
    EXPECT_TRUE(runs->at(0).counts);
    EXPECT_FALSE(runs->at(1).counts);
    EXPECT_TRUE(runs->at(2).recording.runs.empty());
}

TEST(LiveFile, AReferenceRunHasNoPlaceAndSaysWhatHungThere) {
    const auto entry = [](const std::string& file, const std::string& what, const std::string& more = "") {
        return "[[recording]]\nfile = \"" + file + "\"\nrun = \"id-of-" + file + "\"\nreference = \"" + what +
               "\"\nconditions = \"dry\"\npolarity = \"+\"\n" + more;
    };
    std::string moved = recording("c", "W2");
    moved.replace(0, std::string("[[recording]]").size(), "[[correction]]");
    moved.erase(moved.find("run = "), std::string("run = \"id-of-c\"\n").size());
    const auto runs = parsed(entry("a", "standard") + entry("b", "standard") + entry("c", "nothing") + moved);
    ASSERT_TRUE(runs) << runs.error().text();
    const plan::PlannedRun& first = runs->at(0).recording.runs.at(0);
    EXPECT_TRUE(first.without_specimen);
    EXPECT_EQ(first.reference, plan::Mounted::standard);
    EXPECT_EQ(first.key.label(), "check standard dry + 1");
    EXPECT_EQ(runs->at(1).recording.runs.at(0).key.label(), "check standard dry + 2");
    EXPECT_EQ(runs->at(2).recording.runs.at(0).key.label(), "W2 front dry + 1");
    EXPECT_FALSE(runs->at(2).recording.runs.at(0).reference);
    EXPECT_NE(error_of(entry("a", "cloth")).find("'nothing', 'standard', 'blank', 'plate'"),
              std::string::npos)
        << error_of(entry("a", "cloth"));
    EXPECT_NE(error_of(recording("a", "W1", "reference = \"blank\"\n")).find("without specimen"),
              std::string::npos);
}

TEST(LiveFile, TheLastCorrectionHolds) {
    const std::string aside = "[[correction]]\nfile = \"a\"\nset_aside = \"slipped\"\n";
    std::string moved = recording("a", "W2");
    moved.replace(0, std::string("[[recording]]").size(), "[[correction]]");
    moved.erase(moved.find("run = "), std::string("run = \"id-of-a\"\n").size());
    const auto runs = parsed(recording("a", "W1") + aside + moved);
    ASSERT_TRUE(runs) << runs.error().text();
    EXPECT_EQ(runs->at(0).recording.runs.at(0).key.specimen, "W2");
    EXPECT_EQ(runs->at(0).recording.runs.at(0).set_aside, "slipped");
}

TEST(LiveFile, ASecondRunAtAPlaceNeedsACause) {
    EXPECT_NE(error_of(recording("a", "W1") + recording("b", "W1")).find("stands above already"),
              std::string::npos);
    const auto runs = parsed(recording("a", "W1") + recording("b", "W1", "retest_cause = \"slipped\"\n"));
    ASSERT_TRUE(runs);
    EXPECT_EQ(runs->at(1).recording.runs.at(0).retest_cause, "slipped");
    // Where nothing stands above, because that was moved away, there is nothing that it repeats.
    const auto alone = parsed(recording("a", "W1", "retest_cause = \"slipped\"\n"));
    ASSERT_TRUE(alone);
    EXPECT_EQ(alone->at(0).recording.runs.at(0).retest_cause, "");
}

TEST(LiveFile, RefusesWhatTheOrderDoesNotKnow) {
    EXPECT_NE(error_of(recording("a", "W9")).find("W9"), std::string::npos);
    EXPECT_NE(error_of(recording("a", "W1"), "TP-2").find("TP-2"), std::string::npos);
    EXPECT_NE(error_of(recording("a", "W1") + recording("a", "W2")).find("above already"), std::string::npos);
    EXPECT_NE(error_of("[[correction]]\nfile = \"z\"\nset_aside = \"x\"\n").find("no [[recording]]"),
              std::string::npos);
    EXPECT_NE(error_of(recording("../a", "W1")).find("../a"), std::string::npos);
}

}  // namespace ebbtide::paperwork
