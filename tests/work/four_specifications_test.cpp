// The same waveforms asked four questions: each specification gets its own statement, its own report, and
// answers that follow from one set of decay times.

#include <gtest/gtest.h>

#include "report/report.hpp"
#include "support/example_order.hpp"
#include "work/rejudge.hpp"
#include "work/verify.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::testing_support;
using plan::Conformity;

struct Asked {
    std::string specification;
    Conformity statement;
    std::string says;  ///< in the report
};

// What the cloth of the example is made to do (examples/halyard-cloth/recordings.truth.json): it falls to 10
// % in a third to half a second, to 1 % in about twice that.
const std::vector<Asked> questions{
    {"mil-dtl-44031e-specification", Conformity::pass, "4.5.4.4.5"},
    {"sheet-goods-house-specification", Conformity::pass, "mean per specimen and polarity"},
    {"mil-prf-81705d-specification", Conformity::pass, "t(1 %)"},
    {"nfpa-99-legacy-specification", Conformity::pass, "50 % relative humidity"},
};

class FourSpecifications : public ExampleOrder {
  protected:
    /// Judged under one of them, by a rule.
    [[nodiscard]] work::JudgedOrder under(const std::string& specification, const std::string& rule) const {
        auto files = work::folder_files(folder());
        const auto terms = work::terms_from({specification, "", rule}, files);
        EXPECT_TRUE(terms.ok());
        auto judged = work::judge_order(*files, Instant{}, {}, *terms);
        EXPECT_TRUE(judged.ok()) << (judged.ok() ? "" : judged.error().text());
        return std::move(judged).value();
    }
};

TEST_F(FourSpecifications, JudgeTheSameDecayTimes) {
    const work::JudgedOrder own = under(questions[0].specification, "");
    for (const Asked& asked : questions) {
        const work::JudgedOrder judged = under(asked.specification, "");
        EXPECT_EQ(judged.record.judgement.statement, asked.statement) << asked.specification;
        ASSERT_EQ(judged.record.judgement.runs.size(), own.record.judgement.runs.size());
        for (std::size_t i = 0; i < own.record.judgement.runs.size(); ++i) {
            const judge::JudgedRun& one = judged.record.judgement.runs[i];
            EXPECT_EQ(one.run_id, own.record.judgement.runs[i].run_id);
            EXPECT_EQ(one.figures->levels[0].decay_s,
                      own.record.judgement.runs[i].figures->levels[0].decay_s);
        }
    }
}

TEST_F(FourSpecifications, EachGetAReportThatNamesItReadsOutItsRequirementsAndVerifies) {
    for (const Asked& asked : questions) {
        auto files = work::folder_files(folder());
        const auto terms = work::terms_from({asked.specification, "", ""}, files);
        ASSERT_TRUE(terms.ok());
        auto input = work::report_input(*files, under(asked.specification, ""));
        ASSERT_TRUE(input.ok());
        const std::string page = report::to_html(*input).value();
        EXPECT_NE(page.find(asked.specification), std::string::npos);
        EXPECT_NE(page.find(asked.says), std::string::npos) << asked.says;
        EXPECT_NE(page.find("does not replace"), std::string::npos) << "its notice";
        const auto verified = work::verify(report::to_pdf(*input).value());
        ASSERT_TRUE(verified.ok()) << verified.error().text();
        EXPECT_TRUE(verified->differences.empty()) << verified->differences.front();
        EXPECT_GT(verified->figures_compared, 1000u);
    }
}

// Guarded by U, the results nearest to half a second become conditional, and the others stay as they are.
TEST_F(FourSpecifications, UnderAGuardedRuleLeaveInDoubtOnlyWhatLiesNearItsLimit) {
    EXPECT_EQ(under("mil-prf-81705d-specification", "guarded").record.judgement.statement, Conformity::pass);
    const work::JudgedOrder close = under("nfpa-99-legacy-specification", "guarded");
    EXPECT_EQ(close.record.judgement.statement, Conformity::conditional_pass);
    for (const judge::RequirementOutcome& outcome : close.record.judgement.requirements)
        for (const judge::Finding& finding : outcome.findings) {
            const double room_s = outcome.requirement.limit_s - *finding.value_s;
            EXPECT_EQ(finding.outcome == Conformity::conditional_pass, room_s < *finding.expanded_u_s)
                << finding.group;
            EXPECT_EQ(finding.outcome == Conformity::conditional_pass, !finding.advice.empty());
        }
}

}  // namespace
