// Requirements on what another test gave, and plans with too few specimens.

#include "judge/supplied.hpp"

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "judge/invented_runs.hpp"
#include "judge/plan_gaps.hpp"

namespace ebbtide::judge {
namespace {

using plan::Conformity;

plan::Requirement asked(plan::Comparison comparison, double limit) {
    plan::Requirement requirement;
    requirement.id = "shielding";
    requirement.comparison = comparison;
    requirement.supplied = plan::SuppliedLimit{"shielding_factor", limit};
    return requirement;
}

plan::Order order_with(std::vector<plan::SuppliedResult> results) {
    plan::Order order;
    order.supplied = std::move(results);
    return order;
}

Conformity outcome(plan::Comparison comparison, double value) {
    const auto findings =
        supplied_findings(asked(comparison, 0.2), order_with({{"shielding_factor", "", value, 0, "x"}}), {});
    return findings.at(0).outcome;
}

std::vector<JudgedRun> runs_of(std::initializer_list<const char*> specimens) {
    std::vector<JudgedRun> runs;
    for (const char* specimen : specimens) {
        runs.emplace_back();
        runs.back().key.specimen = specimen;
    }
    return runs;
}

TEST(SuppliedQuantity, MeetsItsLimitByTheComparisonThatIsWritten) {
    using enum plan::Comparison;
    EXPECT_EQ(outcome(greater, 0.21), Conformity::pass);
    EXPECT_EQ(outcome(greater, 0.2), Conformity::fail);
    EXPECT_EQ(outcome(greater_or_equal, 0.2), Conformity::pass);
    EXPECT_EQ(outcome(less, 0.2), Conformity::fail);
    EXPECT_EQ(outcome(less_or_equal, 0.2), Conformity::pass);
}

TEST(SuppliedQuantity, ThatNobodySuppliedIsVoidAndSaysWhatToSupply) {
    const auto findings =
        supplied_findings(asked(plan::Comparison::greater, 0.2),
                          order_with({{"another_quantity", "", 1, 0, "x"}}), runs_of({"S1"}));
    ASSERT_EQ(findings.size(), 1u);
    EXPECT_EQ(findings[0].outcome, Conformity::void_);
    EXPECT_NE(findings[0].reason.find("shielding_factor"), std::string::npos);
    EXPECT_NE(findings[0].reason.find("[[supplied]]"), std::string::npos);
}

// A band in seconds was agreed for decay times; nobody agreed how near a shielding factor may come.
TEST(SuppliedQuantity, IsNotJudgedByAGuardBandInSeconds) {
    plan::Order order = order_with({{"shielding_factor", "", 0.5, 0.01, "x"}});
    order.decision_rule.kind = plan::DecisionRule::Kind::guarded;
    order.decision_rule.guard_s = 0.02;
    const auto findings = supplied_findings(asked(plan::Comparison::greater, 0.2), order, {});
    EXPECT_EQ(findings.at(0).outcome, Conformity::void_);
    EXPECT_NE(findings.at(0).reason.find("guard_times_U"), std::string::npos);
}

TEST(SuppliedQuantity, OfSingleSpecimensIsNeededOfEveryOneInThePlan) {
    auto runs = runs_of({"S1", "S1", "S2", "without specimen"});
    runs.back().without_specimen = true;
    const auto findings = supplied_findings(asked(plan::Comparison::greater, 0.2),
                                            order_with({{"shielding_factor", "S1", 0.3, 0.01, "x"}}), runs);
    ASSERT_EQ(findings.size(), 2u);
    EXPECT_EQ(findings[0].outcome, Conformity::pass);
    EXPECT_EQ(findings[1].group, "S2");
    EXPECT_EQ(findings[1].outcome, Conformity::void_);
    const auto whole = supplied_findings(
        asked(plan::Comparison::greater, 0.2),
        order_with({{"shielding_factor", "S1", 0.3, 0.01, "x"}, {"shielding_factor", "", 0.3, 0.01, "x"}}),
        runs);
    EXPECT_EQ(whole.size(), 2u) << "one of the items as a whole stands for the others";
    EXPECT_EQ(whole[1].outcome, Conformity::pass);
}

TEST(SuppliedQuantity, IsGuardedBySoManyTimesItsOwnUncertainty) {
    plan::Order order = order_with({{"shielding_factor", "", 0, 0.01, "x"}});
    order.decision_rule.kind = plan::DecisionRule::Kind::guarded;
    order.decision_rule.guard_times_U = 0.5;  // w = 0.5 * 1.96 * 0.01 = 0.0098
    const auto at = [&](double value) {
        order.supplied[0].value = value;
        return supplied_findings(asked(plan::Comparison::greater, 0.2), order, {}).at(0);
    };
    EXPECT_EQ(at(0.21).outcome, Conformity::pass);
    EXPECT_EQ(at(0.205).outcome, Conformity::conditional_pass);
    EXPECT_EQ(at(0.195).outcome, Conformity::conditional_fail);
    EXPECT_EQ(at(0.19).outcome, Conformity::fail);
    // Phi(-1) for one standard uncertainty inside the limit.
    EXPECT_NEAR(*at(0.21).wrong_acceptance, 0.158655, 1e-6);
    order.supplied[0].u = 0;
    EXPECT_EQ(at(0.2001).outcome, Conformity::pass);
    EXPECT_NE(at(0.2001).reason.find("stated as 0"), std::string::npos);
}

RC_GTEST_PROP(SuppliedQuantity, ReadFromTheOtherSideOfTheLimitIsTheMirrorImage, ()) {
    const double off = *rc::gen::inRange(-100, 100) / 1000.0, u = *rc::gen::inRange(0, 50) / 1000.0;
    plan::Order order = order_with({{"shielding_factor", "", 1 + off, u, "x"}});
    if (*rc::gen::arbitrary<bool>()) order.decision_rule.kind = plan::DecisionRule::Kind::guarded;
    const auto above = supplied_findings(asked(plan::Comparison::greater_or_equal, 1), order, {}).at(0);
    order.supplied[0].value = 1 - off;
    const auto below = supplied_findings(asked(plan::Comparison::less_or_equal, 1), order, {}).at(0);
    RC_ASSERT(above.outcome == below.outcome);
    RC_ASSERT(above.wrong_acceptance.has_value() == below.wrong_acceptance.has_value());
}

TEST(PlanGaps, NameDirectionsAndStatesWithTooFewSpecimens) {
    plan::Order order;
    order.specimens = {{"W1", "I", "warp", "", "as received"},
                       {"W2", "I", "warp", "", "as received"},
                       {"F1", "I", "filling", "", "as received"}};
    plan::Method method;
    method.specimens = 2;
    auto runs = runs_of({"W1", "W2", "F1", "without specimen"});
    runs.back().without_specimen = true;
    const auto gaps = plan_gaps(runs, order, method);
    ASSERT_EQ(gaps.size(), 1u);
    EXPECT_EQ(gaps[0], "filling, as received: 1 of 2 specimens planned");
}

}  // namespace
}  // namespace ebbtide::judge
