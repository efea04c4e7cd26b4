// A guarded rule in the report: the rule, its guard band, its risk, and what a conditional outcome means.

#include <gtest/gtest.h>

#include <algorithm>

#include "judge/decide.hpp"
#include "judge/prior_risk.hpp"
#include "report/dot_plot.hpp"
#include "report/dot_rows.hpp"
#include "report/invented_order.hpp"
#include "report/report_page.hpp"
#include "report/rule_words.hpp"

namespace {

using namespace ebbtide;
using testing_support::holds;
using testing_support::html_of;
using testing_support::invented_report;

/// The invented order without what fails it, decided anew by a rule.
report::ReportInput decided(const char* under) {
    report::ReportInput input = invented_report();
    plan::DecisionRule& rule = input.record.order.decision_rule;
    rule = *plan::parse_rule(under);
    rule.agreed = "Ida Lunt, 2026-10-02, in writing";
    judge::Judgement& judgement = input.record.judgement;
    judgement.reasons.clear();
    judgement.statement = plan::Conformity::pass;
    for (judge::RequirementOutcome& outcome : judgement.requirements) {
        outcome.outcome = plan::Conformity::pass;
        std::erase_if(outcome.findings,
                      [](const judge::Finding& finding) { return finding.bound != judge::BoundKind::value; });
        for (judge::Finding& finding : outcome.findings) {
            finding.wrong_acceptance.reset();
            judge::decide(finding, outcome.requirement, rule);
            outcome.outcome = std::ranges::max(outcome.outcome, finding.outcome, {}, plan::gravity);
            if (finding.outcome != plan::Conformity::pass)
                judgement.reasons.push_back(finding.group + ": " + finding.reason);
        }
        judgement.statement = std::ranges::max(judgement.statement, outcome.outcome, {}, plan::gravity);
    }
    return input;
}

TEST(GuardedReport, ExplainsAConditionalPassOnItsFirstPage) {
    const report::ReportInput input = decided("guarded:0.1s");
    ASSERT_EQ(input.record.judgement.statement, plan::Conformity::conditional_pass);
    const std::string page = html_of(input);
    const std::string front = page.substr(0, page.find("Decay times against the limits"));
    EXPECT_TRUE(holds(front, "conditional pass"));
    EXPECT_TRUE(holds(front, "closer to its limit than the margin for measurement uncertainty"));
    EXPECT_TRUE(holds(front, "is for the customer to say"));
    EXPECT_TRUE(holds(
        front, "filling, as received: 0.4021 s ± 0.0068 s meets ≤ 0.5 s but lies inside the guard band"));
    EXPECT_TRUE(holds(front, "Decision rule: guarded acceptance"));
    EXPECT_TRUE(holds(front, "w = 0.1 s"));
    EXPECT_TRUE(holds(front, "Conditional pass: within the limit, by less than w."));
    EXPECT_TRUE(holds(front, "of wrong acceptance"));
}

TEST(GuardedReport, ExplainsAConditionalFailOnItsFirstPage) {
    report::ReportInput input = decided("guarded");
    input.record.judgement.statement = plan::Conformity::conditional_fail;
    const std::string page = html_of(input);
    EXPECT_TRUE(holds(page, "over their limit by less than the margin for measurement uncertainty"));
}

// ISO/IEC 17025:2017, 7.8.6.1: the rule and the level of risk that goes with it.
TEST(GuardedReport, StatesTheRuleWithItsLevelOfRisk) {
    // U is 2 u here and w = U: at the guarded limit 1 - Phi(2) = 0.0228 (normal tables).
    const std::string by_U = report::rule_in_full(decided("guarded").record);
    EXPECT_TRUE(holds(by_U, "w = U, the result's own expanded uncertainty (95 %)")) << by_U;
    EXPECT_TRUE(holds(by_U, "probability of wrong acceptance of 2.3 %")) << by_U;
    EXPECT_TRUE(holds(by_U, "Agreed: Ida Lunt"));
    EXPECT_TRUE(holds(by_U, "it is compared with the limit itself"));
    // Half of U is one u: 1 - Phi(1) = 0.1587.
    const std::string half = report::rule_in_full(decided("guarded:0.5U").record);
    EXPECT_TRUE(holds(half, "w = 0.5 U, 0.5 times the result's own expanded uncertainty (95 %)")) << half;
    EXPECT_TRUE(holds(half, "15.9 %")) << half;
    const std::string fixed = report::rule_in_full(decided("guarded:0.1s").record);
    EXPECT_TRUE(holds(fixed, "the guard band in seconds is asked of it")) << fixed;
    EXPECT_TRUE(holds(fixed, "of < 0.1 %")) << fixed;
    EXPECT_TRUE(holds(report::rule_in_short(decided("simple").record), "up to 50 %"));
}

TEST(GuardedReport, PrintsGuardBandAndBothRisksWithEveryRequirement) {
    report::ReportInput input = decided("guarded:0.1s");
    judge::Finding& over = input.record.judgement.requirements[0].findings[0];
    over.value_s = 0.503;
    judge::decide(over, input.record.judgement.requirements[0].requirement, input.record.order.decision_rule);
    ASSERT_TRUE(over.wrong_rejection);
    const std::string page = html_of(input);
    EXPECT_TRUE(holds(page, ">w, s<"));
    EXPECT_TRUE(holds(page, ">wrong acceptance<"));
    EXPECT_TRUE(holds(page, ">wrong rejection<"));
    // Phi(-0.003/0.0031) = 0.1666: a table of the normal distribution at 0.968.
    EXPECT_TRUE(holds(page, ">16.7 %<"));
    const std::string simple = html_of(decided("simple"));
    EXPECT_FALSE(holds(simple, ">w, s<"));
    EXPECT_FALSE(holds(simple, ">wrong rejection<"));
    EXPECT_FALSE(holds(simple, "guard band w"));
}

TEST(GuardedReport, StatesTheRiskBeforeTheTestWhereAHistoryIsGiven) {
    report::ReportInput input = decided("guarded:0.03s");
    EXPECT_TRUE(report::risks_before_the_test(input.record.judgement).empty());
    judge::RequirementOutcome& outcome = input.record.judgement.requirements[0];
    input.record.order.decision_rule.history = {{outcome.requirement.id, 0.42, 0.05, "41 <rolls> of 2025"}};
    outcome.prior_risk = judge::prior_risk_of(outcome, input.record.order.decision_rule);
    ASSERT_TRUE(outcome.prior_risk);
    const auto sentences = report::risks_before_the_test(input.record.judgement);
    ASSERT_EQ(sentences.size(), 1u);
    EXPECT_TRUE(
        holds(sentences[0], "average 0.42 s with a standard deviation of 0.05 s (41 <rolls> of 2025)"));
    EXPECT_TRUE(holds(sentences[0], "w = 0.030 s"));
    const std::string page = html_of(input);
    EXPECT_TRUE(holds(page, "Risk of the rule before the test"));
    EXPECT_TRUE(holds(page, "41 &lt;rolls&gt; of 2025"));
}

TEST(GuardBand, IsDrawnAndLabelledInTheRowsThatItIsAskedOf) {
    const report::ReportInput input = decided("guarded:0.1s");
    const plan::Level level = input.record.judgement.requirements[0].requirement.level;
    for (const report::DotRow& row : report::dot_rows(input.record.judgement, input.record.order, level)) {
        const bool counting = std::ranges::any_of(row.runs, [](const auto* run) { return run->counts; });
        ASSERT_EQ(row.guards.size(), row.mean != nullptr || counting ? 1u : 0u) << row.label;
        for (const report::GuardBand& guard : row.guards) {
            EXPECT_EQ(guard.limit_s, 0.5);
            EXPECT_EQ(guard.width_s, 0.1);
        }
    }
    const auto drawn = report::dot_plots(input.record.judgement, input.record.order, level, 499);
    ASSERT_EQ(drawn.size(), 1u);
    EXPECT_TRUE(
        holds(drawn[0].description, "Hatched on either side of the limit 0.5 s: its guard band, 0.10 s"));
    const auto labelled = [](const report::Picture& picture) {
        return std::ranges::any_of(picture.shapes, [](const report::Shape& shape) {
            const auto* label = std::get_if<report::Label>(&shape);
            return label != nullptr && label->text == "limit 0.5 s, guard band w = 0.10 s (hatched)";
        });
    };
    EXPECT_TRUE(labelled(drawn[0]));
    const report::ReportInput simple = decided("simple");
    const auto plain = report::dot_plots(simple.record.judgement, simple.record.order, level, 499);
    EXPECT_FALSE(labelled(plain[0]));
    EXPECT_LT(plain[0].shapes.size(), drawn[0].shapes.size());
}

TEST(GuardBand, OfOneRowIsTheWidestOfItsRuns) {
    const report::ReportInput input = decided("guarded");
    const plan::Level level = input.record.judgement.requirements[0].requirement.level;
    const auto rows = report::dot_rows(input.record.judgement, input.record.order, level);
    const auto& findings = input.record.judgement.requirements[1].findings;
    for (const report::DotRow& row : rows) {
        if (row.mean != nullptr) {
            ASSERT_EQ(row.guards.size(), 1u);
            EXPECT_EQ(row.guards[0].width_s, *row.mean->guard_s);
        }
        double widest = 0;
        for (const judge::Finding& finding : findings)
            for (const judge::JudgedRun* run : row.runs)
                if (run == &input.record.judgement.runs[finding.runs[0]])
                    widest = std::max(widest, *finding.guard_s);
        if (widest > 0) {
            EXPECT_EQ(row.guards.at(0).width_s, widest);
        }
    }
}

}  // namespace
