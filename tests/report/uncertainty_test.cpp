// The chapter on uncertainty: the budget of the result that decides, what would help, what is missing.

#include <gtest/gtest.h>

#include "judge/advice.hpp"
#include "judge/decide.hpp"
#include "judge/influences.hpp"
#include "report/invented_order.hpp"
#include "report/report_page.hpp"

namespace {

using namespace ebbtide;
using testing_support::holds;
using testing_support::html_of;
using testing_support::invented_report;

/// The means of the invented order only, their first one moved to the limit's neighbourhood under a guarded
/// rule.
report::ReportInput with_mean_of(double value_s) {
    report::ReportInput input = invented_report();
    plan::DecisionRule& rule = input.record.order.decision_rule;
    rule.kind = plan::DecisionRule::Kind::guarded;
    rule.guard_times_U = 1;
    judge::Judgement& judgement = input.record.judgement;
    judgement.requirements.pop_back();
    judge::RequirementOutcome& means = judgement.requirements.front();
    means.findings.resize(1);
    judge::Finding& finding = means.findings.front();
    const judge::Sum sum = judge::sum_of(finding.budget);
    finding.value_s = value_s;
    finding.u_s = sum.u_s;
    finding.expanded_u_s = sum.expanded_u_s;
    judge::decide(finding, means.requirement, rule);
    judge::advise(finding, means.requirement, rule);
    return input;
}

TEST(UncertaintyChapter, ShowsTheBudgetOfTheMeanWhereAMeanIsAsked) {
    const std::string page = html_of(with_mean_of(0.3));
    EXPECT_TRUE(holds(page, "The mean t(10 %) of warp, as received (n = 3) is 0.3000("));
    EXPECT_TRUE(holds(page, "u is that of one run, the sensitivity that of the mean"));
    EXPECT_FALSE(holds(page, "What would help"));
}

TEST(UncertaintyChapter, SaysWhatWouldMakeAConditionalPassAPass) {
    const report::ReportInput input = with_mean_of(0.498);
    const judge::Finding& finding = input.record.judgement.requirements[0].findings[0];
    ASSERT_EQ(finding.outcome, plan::Conformity::conditional_pass);
    const std::string page = html_of(input);
    EXPECT_TRUE(holds(page, "What would help 4.2-average, warp, as received"));
    for (const std::string& sentence : judge::advice_in_words(
             finding, input.record.judgement.requirements[0].requirement, input.record.order.decision_rule))
        EXPECT_TRUE(holds(page, sentence)) << sentence;
}

TEST(UncertaintyChapter, NamesWhatIsNotInTheBudget) {
    report::ReportInput input = with_mean_of(0.3);
    std::string page = html_of(input);
    EXPECT_TRUE(holds(page, "Humidity is not in the budget"));
    EXPECT_TRUE(holds(page, "Clamping is not in the budget"));
    input.record.method.sensitivity = {12, 30, "from memory"};
    input.record.bench->fixture.u_clamping = 0.01;
    page = html_of(input);
    EXPECT_FALSE(holds(page, "Humidity is not in the budget"));
    EXPECT_FALSE(holds(page, "Clamping is not in the budget"));
    EXPECT_TRUE(holds(page, "a factor of ten for 12 % RH (the method&#39;s default, from memory)") ||
                holds(page, "a factor of ten for 12 % RH (the method's default, from memory)"));
}

TEST(UncertaintyChapter, SaysWithWhatALineIsCorrelated) {
    report::ReportInput input = with_mean_of(0.3);
    auto& budget = input.record.judgement.requirements[0].findings[0].budget;
    budget.push_back({"relative humidity", 0.8, "% RH", -0.01, {}, decay::Scope::bench, ""});
    budget.push_back({"temperature", 0.3, "°C", -0.01, {}, decay::Scope::bench, "relative humidity", -0.25});
    const std::string page = html_of(input);
    EXPECT_TRUE(holds(page, "Correlated with relative humidity, r = -0.25."));
    EXPECT_TRUE(holds(page, "correlations included"));
    EXPECT_TRUE(holds(page, ">0.80 % RH<"));
}

}  // namespace
