// A folder of recordings as one order: the same judgement as when each is listed, and nothing skipped in
// silence.

#include <gtest/gtest.h>

#include <set>

#include "record/json.hpp"
#include "report/report.hpp"
#include "support/program.hpp"
#include "work/judge_order.hpp"
#include "work/report_input.hpp"
#include "work/verify.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::testing_support;

const std::string example = EBBTIDE_SOURCE_DIR "/examples/film-insulator";

class FolderOrder : public ::testing::Test {
  protected:
    void SetUp() override {
        std::filesystem::copy(example, folder_ / "order", std::filesystem::copy_options::recursive);
        write_order("{specimen}-{polarity}-{replicate}.csv");
    }
    [[nodiscard]] std::string path(const std::string& name) const { return folder_ / ("order/" + name); }
    [[nodiscard]] std::unique_ptr<work::OrderFiles> files() const {
        return work::folder_files(folder_ / "order");
    }

    /// The example's order with the list of recordings put into one pattern.
    void write_order(const std::string& names, const std::string& more = "") {
        const std::string listed = bytes_of(example + "/order.toml");
        const std::size_t first = listed.find("[[recording]]");
        ASSERT_NE(first, std::string::npos);
        const auto constant = [&](const std::string& key) {
            const std::size_t at = listed.find(key + " = \"", first) + key.size() + 4;
            return key + " = \"" + listed.substr(at, listed.find('"', at) - at) + "\"\n";
        };
        write_bytes(path("order.toml"), listed.substr(0, first) +
                                            "[[folder]]\nfolder = \"recordings\"\nnames = \"" + names +
                                            "\"\n" + constant("face") + constant("conditions") + more);
    }
    void expect_refused(const std::string& file, const std::string& part) {
        const auto judged = work::judge_order(*files(), Instant{});
        ASSERT_FALSE(judged.ok()) << part;
        EXPECT_EQ(judged.error().code, Fault::bad_input);
        EXPECT_NE(judged.error().text().find(file), std::string::npos) << judged.error().text();
        EXPECT_NE(judged.error().text().find(part), std::string::npos) << judged.error().text();
    }

    TemporaryFolder folder_;
};

TEST_F(FolderOrder, IsJudgedAsTheOneThatListsItsRecordings) {
    const auto judged = work::judge_order(*files(), Instant{});
    ASSERT_TRUE(judged.ok()) << judged.error().text();
    const auto listed = work::judge_order(*work::folder_files(example), Instant{});
    ASSERT_TRUE(listed.ok()) << listed.error().text();
    ASSERT_EQ(judged->record.judgement.runs.size(), 18u);
    EXPECT_EQ(judged->record.judgement.statement, listed->record.judgement.statement);
    // Requirements point at runs by their place, and a listed order has its own: compare run by run and
    // finding by finding.
    std::map<std::string, nlohmann::json> ours, theirs;
    const auto of = [](const work::JudgedOrder& order, std::map<std::string, nlohmann::json>& out) {
        const nlohmann::json judgement = record::json_of(order.record.judgement);
        for (const auto& run : judgement["runs"]) out["run " + run["label"].get<std::string>()] = run;
        for (const auto& requirement : judgement["requirements"])
            for (auto finding : requirement["findings"]) {
                finding.erase("runs");
                out[requirement["id"].get<std::string>() + " " + finding["group"].get<std::string>()] =
                    finding;
            }
    };
    of(*judged, ours);
    of(*listed, theirs);
    std::size_t compared = 0;
    EXPECT_GT(ours.size(), 20u);
    EXPECT_EQ(work::differences_of(nlohmann::json(theirs), nlohmann::json(ours), compared),
              std::vector<std::string>{});
}
TEST_F(FolderOrder, TakesFilesInTheOrderOfCounting) {
    std::filesystem::rename(path("recordings/K1-negative-3.csv"), path("recordings/K1-negative-10.csv"));
    const auto names = files()->files_in("recordings");
    ASSERT_TRUE(names.ok());
    EXPECT_EQ(std::vector<std::string>(names->begin(), names->begin() + 3),
              (std::vector<std::string>{"K1-negative-1.csv", "K1-negative-2.csv", "K1-negative-10.csv"}));
}
TEST_F(FolderOrder, LeavesHiddenFilesAndFoldersBelowOut) {
    write_bytes(path("recordings/.notes"), "x");
    std::filesystem::create_directory(path("recordings/old"));
    EXPECT_TRUE(work::judge_order(*files(), Instant{}).ok());
}
TEST_F(FolderOrder, RefusesAFileWhoseNameDoesNotFit) {
    write_bytes(path("recordings/notes.txt"), "x");
    expect_refused("recordings/notes.txt", "does not fit '{specimen}-{polarity}-{replicate}.csv'");
}
TEST_F(FolderOrder, RefusesASpecimenThatItDoesNotKnow) {
    std::filesystem::rename(path("recordings/K1-negative-3.csv"), path("recordings/K7-negative-3.csv"));
    expect_refused("recordings/K7-negative-3.csv", "no [[specimen]] has the id 'K7'");
}
TEST_F(FolderOrder, RefusesTwoFilesForOneRun) {
    std::filesystem::copy(path("recordings/K1-negative-3.csv"), path("recordings/K1-neg-3.csv"));
    expect_refused("recordings/K1-neg", "is the run 'K1");
}
TEST_F(FolderOrder, NamesEveryProblemAtOnce) {
    write_bytes(path("recordings/notes.txt"), "x");
    std::filesystem::rename(path("recordings/K1-negative-3.csv"), path("recordings/K7-negative-3.csv"));
    expect_refused("notes.txt", "K7");
}
TEST_F(FolderOrder, RefusesAFolderWithoutFilesOrThatIsNone) {
    std::filesystem::remove_all(path("recordings"));
    EXPECT_FALSE(work::judge_order(*files(), Instant{}).ok());
    std::filesystem::create_directory(path("recordings"));
    expect_refused("recordings", "holds no files");
}
TEST_F(FolderOrder, RefusesALinkOutOfItsFolder) {
    std::filesystem::rename(path("recordings/K1-negative-3.csv"), folder_ / "elsewhere.csv");
    std::filesystem::create_symlink(folder_ / "elsewhere.csv", path("recordings/K1-negative-3.csv"));
    expect_refused("K1-negative-3.csv", "is a link out of the order's folder");
}
TEST_F(FolderOrder, LeavesToARecordingWhatItLists) {
    write_order("{specimen}-{polarity}-{replicate}.csv",
                "\n[[recording]]\nfile = \"recordings/notes.csv\"\nruns = [{ specimen = \"K1\", face = "
                "\"printed\", conditions "
                "= \"dry\", polarity = \"-\", replicate = 9, set_aside = \"a trial\" }]\n");
    const std::string order = bytes_of(path("order.toml"));
    std::filesystem::copy(path("recordings/K1-negative-1.csv"), path("recordings/notes.csv"));
    const auto judged = work::judge_order(*files(), Instant{});
    ASSERT_TRUE(judged.ok()) << judged.error().text();
    EXPECT_EQ(judged->record.judgement.runs.size(), 19u);
}
TEST_F(FolderOrder, IsVerifiedFromItsReport) {
    auto judged = work::judge_order(*files(), Instant{});
    ASSERT_TRUE(judged.ok()) << judged.error().text();
    auto input = work::report_input(*files(), std::move(judged).value());
    ASSERT_TRUE(input.ok()) << input.error().text();
    const auto verified = work::verify(report::to_pdf(*input).value());
    ASSERT_TRUE(verified.ok()) << verified.error().text();
    EXPECT_EQ(verified->differences, std::vector<std::string>{});
    EXPECT_TRUE(verified->not_attached.empty());
    EXPECT_GT(verified->figures_compared, 500u);
}

}  // namespace
