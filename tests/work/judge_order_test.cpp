// An order's folder in, a record out; and what is refused on the way.

#include "work/judge_order.hpp"
#include "work/report_input.hpp"

#include <gtest/gtest.h>

#include "record/json.hpp"
#include "support/program.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::testing_support;

const std::string example = EBBTIDE_SOURCE_DIR "/examples/halyard-cloth";

/// A copy of the example order that a test may spoil.
class OrderFolder : public ::testing::Test {
  protected:
    void SetUp() override {
        std::filesystem::copy(example, folder_ / "order", std::filesystem::copy_options::recursive);
    }
    [[nodiscard]] std::string path(const std::string& name) const { return folder_ / ("order/" + name); }
    [[nodiscard]] std::string text(const std::string& name) const { return bytes_of(path(name)); }

    void change(const std::string& name, const std::string& from, const std::string& to) {
        std::string content = text(name);
        const std::size_t at = content.find(from);
        ASSERT_NE(at, std::string::npos) << from;
        write_bytes(path(name), content.replace(at, from.size(), to));
    }
    [[nodiscard]] Result<work::JudgedOrder> judged() const {
        return work::judge_order(*work::folder_files(folder_ / "order"), Instant{});
    }
    void expect_refused(const std::string& part) {
        const auto order = judged();
        ASSERT_FALSE(order.ok()) << part;
        EXPECT_EQ(order.error().code == Fault::internal, false);
        EXPECT_NE(order.error().text().find(part), std::string::npos) << order.error().text();
        EXPECT_FALSE(order.error().remedy.empty());
    }
    [[nodiscard]] std::string pdf() const {
        const auto files = work::folder_files(folder_ / "order");
        auto order = work::judge_order(*files, Instant{});
        EXPECT_TRUE(order.ok()) << (order.ok() ? "" : order.error().text());
        if (!order) return {};
        auto input = work::report_input(*files, std::move(order).value());
        EXPECT_TRUE(input.ok()) << (input.ok() ? "" : input.error().text());
        if (!input) return {};
        return report::to_pdf(*input).value();
    }

    TemporaryFolder folder_;
};

TEST_F(OrderFolder, GivesARecordOfEverythingItRestsOn) {
    const auto order = judged();
    ASSERT_TRUE(order.ok()) << order.error().text();
    const record::OrderRecord& record = order->record;
    EXPECT_EQ(record.inputs.size(), 4u + 12u) << "order, method, specification, bench, recordings";
    EXPECT_EQ(record.recordings.size(), 12u);
    EXPECT_EQ(record.judgement.runs.size(), 25u);
    EXPECT_EQ(order->traces.size(), 25u);
    for (const auto& run : record.judgement.runs) EXPECT_TRUE(order->traces.contains(run.run_id));
    EXPECT_EQ(record.judgement.statement, plan::Conformity::pass);
}

TEST_F(OrderFolder, WithoutAnOrderIsRefused) {
    std::filesystem::remove(path("order.toml"));
    expect_refused("order.toml");
}

TEST_F(OrderFolder, WithAMissingRecordingIsRefusedByItsName) {
    std::filesystem::remove(path("recordings/W2.csv"));
    expect_refused("recordings/W2.csv");
}

TEST_F(OrderFolder, WithARecordingThatIsNoneIsRefused) {
    write_bytes(path("recordings/W2.csv"), "");
    expect_refused("recordings/W2.csv");
}

TEST_F(OrderFolder, CitingAnotherEditionIsRefused) {
    change("order.toml", "edition = \"MIL-DTL-44031E\"", "edition = \"MIL-DTL-44031D\"");
    expect_refused("MIL-DTL-44031D");
}

TEST_F(OrderFolder, CitingAnUnknownDocumentIsRefusedWithThoseThereAre) {
    change("order.toml", "\"mil-dtl-44031e-method\"", "\"no-such-method\"");
    expect_refused("sheet-goods-house-method");
}

TEST_F(OrderFolder, OnAnotherApparatusThanTheMethodsIsRefused) {
    std::string own = bytes_of(EBBTIDE_SOURCE_DIR "/methods/mil-dtl-44031e-specification.toml");
    const std::string word = "apparatus = \"clamp_discharge\"";
    own.replace(own.find(word), word.size(), "apparatus = \"charged_plate\"");
    write_bytes(path("own.toml"), own);
    change("order.toml", "\"mil-dtl-44031e-specification\"", "\"own.toml\"");
    const auto order = judged();
    ASSERT_FALSE(order.ok());
    for (const char* named : {"mil-dtl-44031e-method", "mil-dtl-44031e-specification", "bench-2",
                              "charged plate", "clamp discharge"})
        EXPECT_NE(order.error().text().find(named), std::string::npos) << order.error().text();
}

TEST_F(OrderFolder, NamingFilesOutsideItIsRefused) {
    for (const char* name : {"../W1.csv", "recordings/../../W1.csv", "/etc/hostname", "./../W1.csv", ".."}) {
        write_bytes(path("order.toml"), bytes_of(example + "/order.toml"));
        change("order.toml", "\"recordings/W1.csv\"", "\"" + std::string(name) + "\"");
        const auto order = judged();
        ASSERT_FALSE(order.ok()) << name;
        EXPECT_EQ(order.error().code, Fault::bad_input) << name;
        EXPECT_NE(order.error().text().find("folder"), std::string::npos) << order.error().text();
    }
    write_bytes(path("order.toml"), bytes_of(example + "/order.toml"));
    change("order.toml", "bench = \"bench.toml\"", "bench = \"../bench.toml\"");
    EXPECT_FALSE(judged().ok());
}

TEST_F(OrderFolder, WhoseRecordingHoldsFewerRunsThanPlannedIsVoid) {
    // The second half of W1.csv, with the run of the back face, was lost.
    const std::string whole = text("recordings/W1.csv");
    write_bytes(path("recordings/W1.csv"), whole.substr(0, whole.find("\n40.000,") + 1));
    const auto order = judged();
    ASSERT_TRUE(order.ok()) << order.error().text();
    const judge::Judgement& judgement = order->record.judgement;
    EXPECT_EQ(judgement.statement, plan::Conformity::void_);
    EXPECT_FALSE(judgement.runs[1].figures);
    EXPECT_EQ(judgement.runs[1].flags.at(0).code, plan::FlagCode::run_missing);
}

// One recording under two names is one run: a copy must not pass for a replicate.
TEST_F(OrderFolder, WithACopyForARecordingCountsItsRunsOnce) {
    std::filesystem::copy_file(folder_ / "order/recordings/W1.csv", folder_ / "order/recordings/W2.csv",
                               std::filesystem::copy_options::overwrite_existing);
    const auto order = judged();
    ASSERT_TRUE(order.ok()) << order.error().text();
    EXPECT_EQ(order->record.judgement.statement, plan::Conformity::void_) << "W2 was not tested";
    for (const judge::JudgedRun& run : order->record.judgement.runs) {
        const bool repeated =
            std::ranges::find(run.flags, plan::FlagCode::run_repeated, &plan::Flag::code) != run.flags.end();
        EXPECT_EQ(repeated, run.key.specimen == "W2") << run.key.label();
        if (repeated) {
            EXPECT_FALSE(run.counts) << run.key.label();
        }
    }
}

TEST_F(OrderFolder, WhoseRecordingHoldsMoreRunsThanPlannedCountsOnlyThePlanned) {
    // F2.csv holds a run set aside and its retest: without the retest in the plan its run is unplanned.
    std::string order = text("order.toml");
    const std::size_t file = order.find("recordings/F2.csv");
    ASSERT_NE(file, std::string::npos);
    const std::size_t retest = order.find("retest", file);
    ASSERT_NE(retest, std::string::npos);
    const std::size_t line = order.rfind('\n', retest), end = order.find('\n', retest);
    order.erase(line, end - line);
    write_bytes(path("order.toml"), order);
    const auto made = judged();
    ASSERT_TRUE(made.ok()) << made.error().text();
    const auto& runs = made->record.judgement.runs;
    const auto extra = std::ranges::find_if(runs, [](const judge::JudgedRun& run) {
        return std::ranges::find(run.flags, plan::FlagCode::run_unplanned, &plan::Flag::code) !=
               run.flags.end();
    });
    ASSERT_NE(extra, runs.end());
    EXPECT_FALSE(extra->counts);
    EXPECT_EQ(made->record.judgement.statement, plan::Conformity::void_)
        << "the run set aside leaves its place open";
}

TEST_F(OrderFolder, MayKeepItsOwnMethodUnderTheNameOfAShippedOne) {
    std::filesystem::create_directory(path("methods"));
    write_bytes(
        path("methods/mil-dtl-44031e-method.toml"),
        bytes_of(EBBTIDE_SOURCE_DIR "/methods/mil-dtl-44031e-method.toml") + "# with a remark of our own\n");
    change("order.toml", "\"mil-dtl-44031e-method\"", "\"methods/mil-dtl-44031e-method.toml\"");
    const auto attachments = report::attachments_of_pdf(pdf());
    ASSERT_TRUE(attachments.ok());
    const auto own =
        std::ranges::find(*attachments, "methods/mil-dtl-44031e-method.toml", &report::Attachment::name);
    ASSERT_NE(own, attachments->end());
    EXPECT_NE(own->bytes.find("a remark of our own"), std::string::npos);
}

TEST_F(OrderFolder, MakesTheSameReportTwice) {
    EXPECT_EQ(pdf(), pdf());
}

}  // namespace
