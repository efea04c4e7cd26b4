// A conditional result says what would settle it.

#include "judge/advice.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <algorithm>
#include <cmath>

#include "judge/decide.hpp"
#include "judge/invented_runs.hpp"
#include "judge/uncertainty_of.hpp"
#include "support/agrees.hpp"

namespace ebbtide::judge {
namespace {

using namespace testing_support;
using ebbtide::testing_support::agrees;
using plan::Conformity;

plan::DecisionRule guarded(double times_U = 1) {
    plan::DecisionRule rule;
    rule.kind = plan::DecisionRule::Kind::guarded;
    rule.guard_times_U = times_U;
    return rule;
}

const plan::Requirement half_second = mean_of({plan::GroupKey::specimen}, 0.5);

/// A mean of `runs` runs with noise of its own, humidity of the bench and a lag, as decided and advised.
Finding result(double value_s, double u_noise_s, double u_humidity_percent, int runs = 1,
               const plan::Requirement& requirement = half_second,
               const plan::DecisionRule& rule = guarded()) {
    Finding finding;
    finding.group = "W1";
    for (int i = 0; i < runs; ++i) finding.runs.push_back(static_cast<std::size_t>(i));
    finding.bound = BoundKind::value;
    finding.value_s = value_s;
    finding.budget = {
        {"relative humidity", u_humidity_percent, "% RH", -0.01, {}, decay::Scope::bench, ""},
        {"noise at the crossing", u_noise_s, "s", 1 / std::sqrt(runs), {}, decay::Scope::run, ""},
        {"sensor lag", 0.001, "s", 1, {}, decay::Scope::bench, ""}};
    const Sum sum = sum_of(finding.budget);
    finding.u_s = sum.u_s;
    finding.expanded_u_s = sum.expanded_u_s;
    decide(finding, requirement, rule);
    advise(finding, requirement, rule);
    return finding;
}

TEST(Advice, NamesTheSourceThatHalvedMakesAPass) {
    // 0.48 s under 0.5 s: U of 1.96 sqrt(10^2 + 4^2 + 1) ms = 21 ms leaves a doubt, and half the humidity,
    // 1.96 sqrt(5^2 + 4^2 + 1) ms = 13 ms, none; by hand.
    const Finding finding = result(0.48, 0.004, 1);
    ASSERT_EQ(finding.outcome, Conformity::conditional_pass);
    ASSERT_EQ(finding.advice.size(), 3u) << "every source of the budget";
    EXPECT_EQ(finding.advice[0].source, "relative humidity");
    EXPECT_TRUE(agrees(finding.advice[0].expanded_u_s, "0.0127"));
    EXPECT_EQ(finding.advice[0].outcome, Conformity::pass);
    EXPECT_EQ(finding.advice[1].outcome, Conformity::conditional_pass);
    EXPECT_TRUE(
        mentions(advice_in_words(finding, half_second, guarded()),
                 "Halving the uncertainty of relative humidity (now 1.0 % RH) would bring U to 0.013 s "
                 "and make this a pass."));
}

TEST(Advice, SaysHowFarUMustFallInAll) {
    const Finding finding = result(0.48, 0.004, 1);
    EXPECT_TRUE(agrees(finding.relief->expanded_u_s, "0.0200"));
    // A band of 2 U asks for half of that.
    const Finding wide = result(0.48, 0.004, 1, 1, half_second, guarded(2));
    EXPECT_TRUE(agrees(wide.relief->expanded_u_s, "0.0100"));
    EXPECT_TRUE(mentions(advice_in_words(wide, half_second, guarded(2)),
                         "U must fall from 0.021 s to under 0.010 s"));
    EXPECT_TRUE(mentions(advice_in_words(wide, half_second, guarded(2)),
                         "Halving one source is not enough: relative humidity"));
}

TEST(Advice, CountsRunsWhereTheirNoiseIsWhatStandsInTheWay) {
    // U(n) = 1.96 sqrt(30^2/n + 4^2 + 1) ms under 20 ms: n > 900/(10.204^2 - 17) = 10.3; by hand.
    const Finding finding = result(0.48, 0.030, 0.4, 4);
    ASSERT_EQ(finding.outcome, Conformity::conditional_pass);
    EXPECT_EQ(finding.relief->runs, 11);
    EXPECT_TRUE(mentions(advice_in_words(finding, half_second, guarded()), "A mean of 11 runs instead of 4"));
}

TEST(Advice, OffersNoReplicatesAgainstWhatAllRunsShare) {
    const Finding finding = result(0.48, 0.004, 2);
    ASSERT_TRUE(finding.relief);
    EXPECT_FALSE(finding.relief->runs);
    EXPECT_TRUE(
        mentions(advice_in_words(finding, half_second, guarded()), "More replicates alone would not do it"));
}

TEST(Advice, OffersNoReplicatesWhereEveryRunIsJudged) {
    const plan::Requirement each = each_run(plan::Comparison::less_or_equal, 0.5);
    const Finding finding = result(0.48, 0.030, 0.1, 1, each);
    ASSERT_EQ(finding.outcome, Conformity::conditional_pass);
    EXPECT_FALSE(finding.relief->runs);
    EXPECT_FALSE(mentions(advice_in_words(finding, each, guarded()), "eplicates"));
}

TEST(Advice, TurnsNoFailIntoAPass) {
    const Finding finding = result(0.52, 0.004, 1);
    ASSERT_EQ(finding.outcome, Conformity::conditional_fail);
    for (const Advice& advice : finding.advice)
        EXPECT_TRUE(advice.outcome == Conformity::conditional_fail || advice.outcome == Conformity::fail);
    EXPECT_EQ(finding.advice.front().outcome, Conformity::fail);
    const auto words = advice_in_words(finding, half_second, guarded());
    EXPECT_TRUE(mentions(words, "make this a clear fail"));
    EXPECT_TRUE(mentions(words, "No measurement turns a value beyond its limit into a pass"));
}

TEST(Advice, SaysWhenABandAgreedInSecondsLeavesNothingToDo) {
    plan::DecisionRule rule = guarded();
    rule.guard_s = 0.03;
    const Finding finding = result(0.48, 0.004, 1, 1, half_second, rule);
    ASSERT_EQ(finding.outcome, Conformity::conditional_pass);
    EXPECT_FALSE(finding.relief);
    EXPECT_TRUE(mentions(advice_in_words(finding, half_second, rule), "0.03 s whatever the uncertainty"));
}

TEST(Advice, SaysWhenTheValueLiesAtTheLimit) {
    const Finding finding = result(0.5, 0.004, 1);
    ASSERT_EQ(finding.outcome, Conformity::conditional_pass);
    EXPECT_FALSE(finding.relief);
    EXPECT_TRUE(mentions(advice_in_words(finding, half_second, guarded()), "lies at the limit itself"));
}

TEST(Advice, IsForConditionalResultsOnly) {
    for (const Finding& finding : {result(0.1, 0.004, 1), result(0.9, 0.004, 1)}) {
        EXPECT_TRUE(finding.advice.empty());
        EXPECT_FALSE(finding.relief);
        EXPECT_TRUE(advice_in_words(finding, half_second, guarded()).empty());
    }
}

TEST(Advice, SpeaksOfTheHardestOfSeveral) {
    RequirementOutcome outcome;
    outcome.findings = {result(0.48, 0.004, 1), result(0.495, 0.004, 1), result(0.1, 0.004, 1)};
    ASSERT_NE(hardest_conditional(outcome), nullptr);
    EXPECT_EQ(*hardest_conditional(outcome)->value_s, 0.495);
    outcome.findings = {result(0.1, 0.004, 1)};
    EXPECT_EQ(hardest_conditional(outcome), nullptr);
}

TEST(Advice, StandsInTheJudgement) {
    plan::Order of = order();
    of.decision_rule = guarded();
    const Judgement judgement =
        judge({measured(key("W1"), 0.48, 0.02)}, of, {}, specification({{half_second}}));
    const Finding& finding = judgement.requirements[0].findings[0];
    EXPECT_EQ(finding.outcome, Conformity::conditional_pass);
    ASSERT_FALSE(finding.advice.empty());
    EXPECT_EQ(finding.advice[0].source, "noise at the crossing");
    EXPECT_EQ(finding.relief->runs, 4) << "1.96 * 20 ms/sqrt(n) under 20 ms";
}

RC_GTEST_PROP(AdviceProperty, WhatItPromisesHolds, ()) {
    const double noise_s = *rc::gen::inRange(1, 40) / 1000.0, humidity = *rc::gen::inRange(1, 40) / 10.0;
    const int runs = *rc::gen::inRange(1, 12);
    // Somewhere inside the guard band, on either side of the limit.
    const double part_of_U = *rc::gen::inRange(1, 99) / 100.0, side = *rc::gen::element(-1.0, 1.0);
    const double value_s = 0.5 + side * part_of_U * *result(0.5, noise_s, humidity, runs).expanded_u_s;
    const Finding finding = result(value_s, noise_s, humidity, runs);
    RC_ASSERT(finding.relief.has_value());
    const Conformity wanted =
        finding.outcome == Conformity::conditional_pass ? Conformity::pass : Conformity::fail;
    const double just_under = finding.relief->expanded_u_s * (1 - 1e-9);
    const double just_over = finding.relief->expanded_u_s * (1 + 1e-9);
    RC_ASSERT(outcome_for(value_s, just_under, half_second, guarded()) == wanted);
    RC_ASSERT(outcome_for(value_s, just_over, half_second, guarded()) == finding.outcome);
    RC_ASSERT(std::ranges::is_sorted(finding.advice, {}, &Advice::expanded_u_s));
    if (finding.relief->runs) {
        RC_ASSERT(result(value_s, noise_s, humidity, *finding.relief->runs).outcome == wanted);
        const Finding one_less = result(value_s, noise_s, humidity, *finding.relief->runs - 1);
        // Where U would come to the gap itself (8 ms over 640 runs beside 1 ms and 1 ms) rounding decides.
        if (*one_less.expanded_u_s > just_over) RC_ASSERT(one_less.outcome == finding.outcome);
    }
}

}  // namespace
}  // namespace ebbtide::judge
