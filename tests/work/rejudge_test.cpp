// Archived recordings judged again: read once, judged twice, and what differs.

#include "work/rejudge.hpp"

#include <gtest/gtest.h>

#include "record/json.hpp"
#include "support/example_order.hpp"
#include "work/verify.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::testing_support;
using plan::Conformity;

class Rejudge : public ExampleOrder {
  protected:
    [[nodiscard]] Result<work::Rejudged> under(const work::TermsRequest& request) const {
        auto files = work::folder_files(folder());
        const auto terms = work::terms_from(request, files);
        if (!terms) return terms.error();
        return work::rejudge(*files, *terms, Instant{});
    }
    /// The shipped specification with another limit, beside the order's folder.
    [[nodiscard]] std::string tighter(const std::string& name) const {
        std::string text = bytes_of(EBBTIDE_SOURCE_DIR "/methods/mil-dtl-44031e-specification.toml");
        for (std::size_t at = 0; (at = text.find("limit_s = 0.5", at)) != std::string::npos; at += 10)
            text.replace(at, 13, "limit_s = 0.3");
        write_bytes(beside_ / name, text);
        return beside_ / name;
    }
    static const work::Compared* line(const work::Rejudged& rejudged, const std::string& of,
                                      const std::string& group = "") {
        for (const work::Compared& one : rejudged.compared)
            if (one.of == of && one.group == group) return &one;
        return nullptr;
    }
};

TEST_F(Rejudge, AtALowerLevelMakesTheAgreedPassAFail) {
    const auto rejudged = under({"", "10 %,1 %", ""});
    ASSERT_TRUE(rejudged.ok()) << rejudged.error().text();
    EXPECT_EQ(rejudged->agreed.statement, Conformity::pass);
    EXPECT_EQ(rejudged->judged.record.judgement.statement, Conformity::fail);
    const work::Compared* statement = line(*rejudged, "statement");
    ASSERT_TRUE(statement);
    EXPECT_EQ(statement->agreed, Conformity::pass);
    EXPECT_EQ(statement->instead, Conformity::fail);
    EXPECT_EQ(&rejudged->compared.front(), statement) << "the statement stands first";
    ASSERT_TRUE(line(*rejudged, "3.10-average at 10 %"));
    EXPECT_FALSE(line(*rejudged, "3.10-average at 10 %")->differs());
    // Findings are listed where they differ only.
    EXPECT_FALSE(line(*rejudged, "3.10-average at 10 %", "warp, as received"));
    const work::Compared* mean = line(*rejudged, "3.10-average at 1 %", "filling, washed 5 times");
    ASSERT_TRUE(mean);
    EXPECT_EQ(mean->agreed, Conformity::pass);
    EXPECT_EQ(mean->instead, Conformity::fail);
    EXPECT_NE(mean->agreed_result, mean->instead_result);
    // An exponential takes twice as long to 1 % as to 10 %, and so does the example within a few percent.
    for (const judge::JudgedRun& run : rejudged->agreed.runs) {
        if (!run.counts) continue;
        ASSERT_EQ(run.figures->levels.size(), 2u) << "measured once, to both levels";
        EXPECT_NEAR(*run.figures->levels[1].decay_s / *run.figures->levels[0].decay_s, 2, 0.1);
    }
}

TEST_F(Rejudge, LeavesTheAgreedJudgementAsItIsWithoutOtherTerms) {
    const auto rejudged = under({"", "1 %", ""});
    const auto alone = work::judge_order(*work::folder_files(folder()), Instant{});
    ASSERT_TRUE(rejudged.ok() && alone.ok());
    const auto outcomes = [](const judge::Judgement& judgement) {
        nlohmann::json requirements = record::json_of(judgement)["requirements"];
        return requirements;
    };
    EXPECT_EQ(outcomes(rejudged->agreed), outcomes(alone->record.judgement));
    EXPECT_EQ(rejudged->agreed.statement, alone->record.judgement.statement);
    EXPECT_EQ(rejudged->agreed.reasons, alone->record.judgement.reasons);
}

TEST_F(Rejudge, UnderAnotherSpecificationMeasuresTheLevelsThatItAsks) {
    const auto rejudged = under({"sheet-goods-house-specification", "", ""});
    ASSERT_TRUE(rejudged.ok()) << rejudged.error().text();
    EXPECT_EQ(rejudged->judged.record.specification.id, "sheet-goods-house-specification");
    EXPECT_EQ(rejudged->judged.record.order.specification.file, "mil-dtl-44031e-specification");
    ASSERT_TRUE(line(*rejudged, "decay-50-each"));
    EXPECT_EQ(line(*rejudged, "decay-50-each")->agreed, std::nullopt) << "not asked by the order";
    EXPECT_EQ(line(*rejudged, "decay-50-each")->instead, Conformity::pass);
    EXPECT_EQ(line(*rejudged, "3.10-average")->instead, std::nullopt);
    EXPECT_EQ(rejudged->judged.record.inputs.size(), 4u + 1u + 12u);
}

TEST_F(Rejudge, AnOwnSpecificationMayAskForALevelThatTheMethodDoesNotList) {
    std::string text = bytes_of(EBBTIDE_SOURCE_DIR "/methods/sheet-goods-house-specification.toml");
    write_bytes(path("own.toml"), text);
    change("order.toml", "\"mil-dtl-44031e-specification\"\nedition = \"MIL-DTL-44031E\"",
           "\"own.toml\"\nedition = \"1\"");
    const auto judged = work::judge_order(*work::folder_files(folder()), Instant{});
    ASSERT_TRUE(judged.ok()) << judged.error().text();
    EXPECT_EQ(judged->record.judgement.statement, Conformity::pass) << "t(50 %) is taken for it";
}

TEST_F(Rejudge, TakesASpecificationFromAnywhereAndAttachesIt) {
    const std::string elsewhere = tighter("elsewhere.toml");
    auto files = work::folder_files(folder());
    const auto terms = work::terms_from({elsewhere, "", ""}, files);
    ASSERT_TRUE(terms.ok()) << terms.error().text();
    EXPECT_EQ(terms->specification, "terms/elsewhere.toml");
    const std::string pdf = pdf_of(*files, *terms);
    const auto attached = report::attachments_of_pdf(pdf).value();
    ASSERT_TRUE(attachment(attached, "terms/elsewhere.toml"));
    EXPECT_EQ(attachment(attached, "terms/elsewhere.toml")->bytes, bytes_of(elsewhere));
    ASSERT_TRUE(attachment(attached, "methods/mil-dtl-44031e-specification.toml")) << "the agreed one too";
    const auto record = nlohmann::json::parse(attachment(attached, "record.json")->bytes);
    EXPECT_EQ(record["terms"]["specification"], "terms/elsewhere.toml");
    EXPECT_EQ(record["judgement"]["statement"], "fail");
    const auto verified = work::verify(pdf);
    ASSERT_TRUE(verified.ok());
    EXPECT_TRUE(verified->differences.empty()) << verified->differences.front();
    EXPECT_TRUE(verified->not_attached.empty());
}

TEST_F(Rejudge, FromAnArchivedReportAloneGivesWhatTheFolderGives) {
    const std::string pdf = beside_ / "archived.pdf";
    write_bytes(pdf, pdf_of(*work::folder_files(folder())));
    const auto from_folder = under({"sheet-goods-house-specification", "1/e", "guarded:0.83U"});
    std::filesystem::remove_all(folder());
    auto files = work::order_files_at(pdf);
    ASSERT_TRUE(files.ok()) << files.error().text();
    const auto terms = work::terms_from({"sheet-goods-house-specification", "1/e", "guarded:0.83U"}, *files);
    ASSERT_TRUE(terms.ok());
    const auto from_report = work::rejudge(**files, *terms, Instant{});
    ASSERT_TRUE(from_folder.ok() && from_report.ok());
    EXPECT_EQ(work::json_of(*from_report), work::json_of(*from_folder));
    // A report of the other terms is verified under them, and holds the agreed ones still.
    const std::string other = pdf_of(**files, *terms);
    const auto verified = work::verify(other);
    ASSERT_TRUE(verified.ok());
    EXPECT_TRUE(verified->differences.empty()) << verified->differences.front();
    write_bytes(beside_ / "other.pdf", other);
    auto again = work::order_files_at(beside_ / "other.pdf");
    EXPECT_EQ(work::judge_order(**again, Instant{})->record.judgement.statement, Conformity::pass);
}

TEST_F(Rejudge, ReportUnderForgedTermsIsFoundOut) {
    auto files = work::folder_files(folder());
    const auto terms = work::terms_from({"", "1 %", ""}, files);
    auto input = work::report_input(*files, work::judge_order(*files, Instant{}, {}, *terms).value()).value();
    auto& record = input.attachments.front();
    ASSERT_EQ(record.name, "record.json");
    const std::string honest = record.bytes;
    for (const char* forged : {"null", R"({"levels": ["10 %"]})", R"({"levels": 5})"}) {
        auto document = nlohmann::json::parse(honest);
        document["terms"] = nlohmann::json::parse(forged);
        record.bytes = record::canonical_text(document);
        const auto verified = work::verify(report::to_pdf(input).value());
        ASSERT_TRUE(verified.ok());
        EXPECT_FALSE(verified->differences.empty()) << forged;
    }
}

TEST_F(Rejudge, RefusesTermsThatAreNone) {
    for (const auto& [request, part] : std::initializer_list<std::pair<work::TermsRequest, const char*>>{
             {{"no-such-specification", "", ""}, "no-such-specification"},
             {{"no/such/file.toml", "", ""}, "no/such/file.toml"},
             {{"mil-dtl-44031e-method", "", ""}, "ebbtide.specification/1"},
             {{"bench.toml", "", ""}, "ebbtide.specification/1"},
             {{"", "0", ""}, "never reached"},
             {{"", "ten", ""}, "'ten' is not a decay level"},
             {{"", "", "perhaps"}, "'perhaps' is not a decision rule"}}) {
        const auto rejudged = under(request);
        ASSERT_FALSE(rejudged.ok()) << part;
        EXPECT_NE(rejudged.error().text().find(part), std::string::npos) << rejudged.error().text();
        EXPECT_FALSE(rejudged.error().remedy.empty()) << part;
    }
}

TEST_F(Rejudge, RefusesASpecificationOfAnotherApparatus) {
    const std::string name = tighter("plate.toml");
    std::string text = bytes_of(name);
    text.replace(text.find("clamp_discharge"), 15, "charged_plate");
    write_bytes(name, text);
    const auto rejudged = under({name, "", ""});
    ASSERT_FALSE(rejudged.ok());
    EXPECT_EQ(rejudged.error().code, Fault::bad_input);
}

TEST_F(Rejudge, TellsTwoFilesOfOneNameApart) {
    // The order cites terms/x.toml itself; another x.toml from outside must not stand in its place.
    std::filesystem::create_directory(path("terms"));
    write_bytes(path("terms/x.toml"),
                bytes_of(EBBTIDE_SOURCE_DIR "/methods/mil-dtl-44031e-specification.toml"));
    change("order.toml", "\"mil-dtl-44031e-specification\"", "\"terms/x.toml\"");
    const auto rejudged = under({tighter("x.toml"), "", ""});
    ASSERT_FALSE(rejudged.ok());
    EXPECT_NE(rejudged.error().remedy.find("another file name"), std::string::npos)
        << rejudged.error().text();
}

}  // namespace
