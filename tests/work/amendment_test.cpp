// An amended report beside the one that it replaces: what differs is found, said in words, and what nobody
// stated is pointed out.

#include "work/amendment.hpp"

#include <gtest/gtest.h>

#include "record/json.hpp"
#include "support/example_order.hpp"
#include "work/report_input.hpp"
#include "work/verify.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::testing_support;
using nlohmann::json;

class Amended : public ExampleOrder {
  protected:
    void SetUp() override {
        ExampleOrder::SetUp();
        static const std::string issued = pdf_of(*work::folder_files(folder()));
        write_bytes(path("issued.pdf"), issued);
        change("order.toml", "revision = 1", "revision = 2");
        change("order.toml", "issued = 2026-09-22", "issued = 2026-10-06");
        change(
            "order.toml", "[[item]]",
            "[amendment]\nreplaces_revision = 1\nreplaces_issued = 2026-09-22\nreason = \"The mill moved\"\n"
            "changes = [\"Address of the customer\"]\nreplaced_report = \"issued.pdf\"\n\n[[item]]");
    }
    void amend(const std::string& from, const std::string& to) const { change("order.toml", from, to); }
    [[nodiscard]] Result<work::JudgedOrder> judged() const {
        return work::judge_order(*work::folder_files(folder()), Instant{});
    }
    [[nodiscard]] std::vector<std::string> found() const {
        const auto order = judged();
        EXPECT_TRUE(order.ok()) << (order.ok() ? "" : order.error().text());
        return order ? order->record.amended : std::vector<std::string>();
    }
    void expect_refused(const std::string& part) const {
        const auto order = judged();
        ASSERT_FALSE(order.ok()) << part;
        EXPECT_NE(order.error().text().find(part), std::string::npos) << order.error().text();
        EXPECT_FALSE(order.error().remedy.empty());
    }
    static bool points_out(const std::vector<std::string>& lines, const std::string& what) {
        return lines.front().starts_with("Named by none of the stated changes: ") &&
               lines.front().find(what) != std::string::npos;
    }
};

TEST_F(Amended, SaysWhenNothingDiffers) {
    EXPECT_EQ(
        found(),
        (std::vector<std::string>{"No figure, statement or particular differs from the replaced report"}));
}

TEST_F(Amended, ListsAStatedChangeOfAParticular) {
    amend("11 Ropewalk", "12 Ropewalk");
    EXPECT_EQ(found(),
              (std::vector<std::string>{
                  "customer, address: was \"11 Ropewalk, Tern Point\", is \"12 Ropewalk, Tern Point\""}));
}

TEST_F(Amended, PointsOutAChangeThatNobodyStated) {
    amend("tested_by = \"T. Okafor\"", "tested_by = \"U. Okafor\"");
    const auto lines = found();
    EXPECT_TRUE(points_out(lines, "tested by")) << lines.front();
    EXPECT_TRUE(any_holds(lines, "tested by: was \"T. Okafor\", is \"U. Okafor\""));
}

TEST_F(Amended, TellsOfARunThatNoLongerCountsAndOfTheStatement) {
    amend("replicate = 1 },", "replicate = 1, set_aside = \"The clamp slipped\" },");
    const auto lines = found();
    EXPECT_TRUE(points_out(lines, "the statement of conformity"));
    EXPECT_EQ(lines.at(1), "The statement of conformity was “pass”, is “void”");
    EXPECT_TRUE(any_holds(lines, "W1 front dry-1 + 1: counted, does not count now"));
    EXPECT_TRUE(any_holds(lines, "has the flag “set aside” now"));
    // A person who states it is not reminded of it.
    amend("[\"Address of the customer\"]",
          "[\"W1: one run set aside, hence another conformity\", \"recording of W1\", \"warp average of "
          "3.10-average\"]");
    EXPECT_FALSE(points_out(found(), "W1"));
    EXPECT_FALSE(points_out(found(), "the statement of conformity"));
}

TEST_F(Amended, TellsADecayTimeWithTheDigitsThatDiffer) {
    change("bench.toml", "lag_s = 0.005", "lag_s = 0.009");
    const auto lines = found();
    const auto of_run = std::ranges::find_if(
        lines, [](const std::string& line) { return line.starts_with("W1 front dry-1 + 1, t(10 %): was "); });
    ASSERT_NE(of_run, lines.end());
    // The lag is taken off each decay time (4 ms more than before): 0.301 s becomes 0.297 s.
    EXPECT_EQ(*of_run, "W1 front dry-1 + 1, t(10 %): was 0.301 s, is 0.297 s");
    EXPECT_TRUE(any_holds(lines, "bench, sensor, lag (s): was 0.005, is 0.009"));
    EXPECT_TRUE(any_holds(lines, "... and 17 more figures of runs")) << "25 runs, of which 8 are listed";
    EXPECT_TRUE(points_out(lines, "figures of runs"));
}

TEST_F(Amended, ReportAttachesTheReplacedOneAndIsVerified) {
    amend("11 Ropewalk", "12 Ropewalk");
    auto files = work::folder_files(folder());
    const std::string pdf = pdf_of(*files);
    const auto attached = report::attachments_of_pdf(pdf).value();
    ASSERT_TRUE(attachment(attached, "issued.pdf"));
    EXPECT_EQ(attachment(attached, "issued.pdf")->bytes, bytes_of(path("issued.pdf")));
    const auto verified = work::verify(pdf);
    ASSERT_TRUE(verified.ok());
    EXPECT_TRUE(verified->differences.empty()) << verified->differences.front();
    // Under other terms there is nothing to compare the replaced report with.
    plan::Terms terms;
    terms.levels = plan::parse_levels_asked("1 %").value();
    const auto other = work::verify(pdf_of(*files, terms));
    ASSERT_TRUE(other.ok());
    EXPECT_TRUE(other->differences.empty()) << other->differences.front();
}

TEST_F(Amended, ReportWithoutTheReplacedOneIsVerifiedAsFarAsItGoes) {
    amend("11 Ropewalk", "12 Ropewalk");
    const auto files = work::folder_files(folder());
    auto input = work::report_input(*files, work::judge_order(*files, Instant{}).value()).value();
    std::erase_if(input.attachments, [](const auto& file) { return file.name == "issued.pdf"; });
    const auto verified = work::verify(report::to_pdf(input).value());
    ASSERT_TRUE(verified.ok());
    EXPECT_TRUE(verified->differences.empty()) << verified->differences.front();
    EXPECT_TRUE(verified->not_attached.empty());
    EXPECT_EQ(verified->replaced_not_attached, "issued.pdf");
}

TEST_F(Amended, ReplacedReportThatIsTooLargeIsKeptByItsHash) {
    // Blank lines before the word that ends a PDF trouble no reader: a sound report of more than 64 MiB.
    std::string large = bytes_of(path("issued.pdf"));
    large.insert(large.rfind("startxref"), std::string(65u << 20, '\n'));
    write_bytes(path("issued.pdf"), large);
    const auto files = work::folder_files(folder());
    auto order = judged();
    ASSERT_TRUE(order.ok()) << order.error().text();
    const auto input = work::report_input(*files, std::move(order).value()).value();
    EXPECT_FALSE(attachment(input.attachments, "issued.pdf"));
    EXPECT_EQ(input.record.inputs.back().role, "replaced_report");
    EXPECT_GT(input.record.inputs.back().bytes, 64u << 20);
}

TEST_F(Amended, RefusesAnyReportButTheOneThatItReplaces) {
    const std::string issued = bytes_of(path("issued.pdf"));
    amend("replaces_issued = 2026-09-22", "replaces_issued = 2026-09-23");
    expect_refused("its day of issue is \"2026-09-22\", [amendment] says 2026-09-23");
    amend("replaces_issued = 2026-09-23", "replaces_issued = 2026-09-22");
    amend("revision = 2", "revision = 3");
    amend("replaces_revision = 1", "replaces_revision = 2");
    expect_refused("it is revision 1, [amendment] replaces revision 2");
    amend("replaces_revision = 2", "replaces_revision = 1");
    amend("id = \"TP-2026-0914\"", "id = \"TP-2026-0915\"");
    expect_refused("it reports order \"TP-2026-0914\"");
    amend("id = \"TP-2026-0915\"", "id = \"TP-2026-0914\"");
    for (const std::string& bytes :
         {std::string(), std::string("no PDF"), issued.substr(0, issued.size() / 2)}) {
        write_bytes(path("issued.pdf"), bytes);
        expect_refused("issued.pdf");
    }
    std::filesystem::remove(path("issued.pdf"));
    expect_refused("issued.pdf");
}

TEST_F(Amended, RefusesAReportThatWasMadeUnderOtherTerms) {
    std::filesystem::copy(EBBTIDE_SOURCE_DIR "/examples/halyard-cloth", beside_ / "first",
                          std::filesystem::copy_options::recursive);
    plan::Terms terms;
    terms.levels = plan::parse_levels_asked("1 %").value();
    write_bytes(path("issued.pdf"), pdf_of(*work::folder_files(beside_ / "first"), terms));
    expect_refused("under other terms");
}

/// Records may hold anything: a replaced report is a file that somebody hands in.
TEST(DifferencesInWords, TakeRecordsOfAnyShape) {
    const json real = {{"judgement",
                        {{"statement", "pass"},
                         {"runs", json::array({{{"label", "a"}, {"counts", true}}})},
                         {"requirements", json::array({{{"id", "r"}, {"outcome", "pass"}}})}}},
                       {"order", {{"id", "x"}}},
                       {"recordings", json::array()}};
    for (
        const char* text :
        {"{}", R"({"judgement": 5, "order": [], "recordings": {"a": 1}})",
         R"({"judgement": {"statement": [], "runs": [1, null, {}], "requirements": [[], {"findings": [2]}]}})",
         R"({"judgement": {"runs": [{"label": 5, "figures": {"levels": [{}, 3]}, "flags": [7, {}]}]}})"}) {
        const json odd = json::parse(text);
        EXPECT_FALSE(work::differences_in_words(odd, real, {}).empty()) << text;
        EXPECT_FALSE(work::differences_in_words(real, odd, {}).empty()) << text;
    }
    EXPECT_EQ(work::differences_in_words(real, real, {}).size(), 1u);
}

TEST(DifferencesInWords, AreBoundedAndCounted) {
    json was = {{"order", {{"items", json::array()}}}}, is = was;
    for (int i = 0; i < 30; ++i)
        is["order"]["items"].push_back(
            {{"id", "item " + std::to_string(i)}, {"description", std::string(5000, 'x')}});
    const auto lines = work::differences_in_words(was, is, {"all items"});
    ASSERT_EQ(lines.size(), 9u);
    EXPECT_EQ(lines.back(), "... and 22 more particulars");
    const auto unstated = work::differences_in_words(was, is, {"the weather"});
    ASSERT_EQ(unstated.size(), 10u);
    EXPECT_NE(unstated.front().find("; and 20 more"), std::string::npos) << unstated.front();
    for (const std::string& line : unstated) EXPECT_LE(line.size(), 2500u);
}

}  // namespace
