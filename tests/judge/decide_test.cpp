// Four outcomes around a limit, bounds, missing uncertainty, classes, and what is said of each.

#include "judge/decide.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <cmath>

#include "judge/invented_runs.hpp"
#include "support/agrees.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::judge;
using namespace ebbtide::judge::testing_support;
using ebbtide::testing_support::agrees;
using plan::Comparison;
using plan::Conformity;

plan::DecisionRule rule(const char* text) {
    return *plan::parse_rule(text);
}

const plan::Requirement below_half = each_run(Comparison::less, 0.5);
const plan::Requirement to_half = each_run(Comparison::less_or_equal, 0.5);

Finding decided(BoundKind bound, double value_s, std::optional<double> U_s, const plan::Requirement& asked,
                const char* under) {
    Finding finding;
    finding.bound = bound;
    finding.value_s = value_s;
    finding.expanded_u_s = U_s;
    if (U_s) finding.u_s = *U_s / 2;
    decide(finding, asked, rule(under));
    return finding;
}

Conformity outcome(double value_s, double U_s, const char* under) {
    return decided(BoundKind::value, value_s, U_s, below_half, under).outcome;
}

TEST(GuardedRule, HasFourOutcomesAroundTheLimit) {
    // w = U = 0.04 s: passes below 0.46 s, conditional to 0.5 s and on to 0.54 s, fails from there.
    EXPECT_EQ(outcome(0.45, 0.04, "guarded"), Conformity::pass);
    EXPECT_EQ(outcome(0.47, 0.04, "guarded"), Conformity::conditional_pass);
    EXPECT_EQ(outcome(0.52, 0.04, "guarded"), Conformity::conditional_fail);
    EXPECT_EQ(outcome(0.55, 0.04, "guarded"), Conformity::fail);
    // Half of U: the band is narrower, 0.48 to 0.52 s.
    EXPECT_EQ(outcome(0.47, 0.04, "guarded:0.5U"), Conformity::pass);
    EXPECT_EQ(outcome(0.53, 0.04, "guarded:0.5U"), Conformity::fail);
    // In seconds, whatever U is.
    EXPECT_EQ(outcome(0.47, 0.04, "guarded:0.02s"), Conformity::pass);
    EXPECT_EQ(outcome(0.49, 0.001, "guarded:0.02s"), Conformity::conditional_pass);
    EXPECT_EQ(outcome(0.51, 0.001, "guarded:0.02s"), Conformity::conditional_fail);
}

TEST(GuardedRule, IsAsStrictAtTheGuardedLimitsAsAtTheLimit) {
    // Binary fractions, so that limit - w and limit + w are exact: 0.5 and 0.125.
    const auto at = [](double value_s, const plan::Requirement& asked) {
        return decided(BoundKind::value, value_s, 0.1, asked, "guarded:0.125s").outcome;
    };
    EXPECT_EQ(at(0.375, below_half), Conformity::conditional_pass);
    EXPECT_EQ(at(std::nextafter(0.375, 0), below_half), Conformity::pass);
    EXPECT_EQ(at(0.5, below_half), Conformity::conditional_fail);
    EXPECT_EQ(at(0.625, below_half), Conformity::fail);
    EXPECT_EQ(at(0.375, to_half), Conformity::pass);
    EXPECT_EQ(at(0.5, to_half), Conformity::conditional_pass);
    EXPECT_EQ(at(0.625, to_half), Conformity::conditional_fail);
    EXPECT_EQ(at(std::nextafter(0.625, 1), to_half), Conformity::fail);
}

TEST(GuardedRule, GuardsALowerLimitFromAbove) {
    for (const Comparison comparison : {Comparison::greater, Comparison::greater_or_equal}) {
        EXPECT_EQ(outcome_at(0.7, 0.1, comparison, 0.5), Conformity::pass);
        EXPECT_EQ(outcome_at(0.55, 0.1, comparison, 0.5), Conformity::conditional_pass);
        EXPECT_EQ(outcome_at(0.45, 0.1, comparison, 0.5), Conformity::conditional_fail);
        EXPECT_EQ(outcome_at(0.3, 0.1, comparison, 0.5), Conformity::fail);
    }
    EXPECT_EQ(outcome_at(0.5, 0, Comparison::greater, 0.5), Conformity::fail);
    EXPECT_EQ(outcome_at(0.5, 0, Comparison::greater_or_equal, 0.5), Conformity::pass);
}

TEST(GuardedRule, WithABandOfNoWidthIsTheSimpleRule) {
    for (const double value_s : {0.2, 0.5, 0.8})
        for (const plan::Requirement& asked : {below_half, to_half})
            for (const char* none : {"guarded:0U", "guarded:0s"})
                EXPECT_EQ(decided(BoundKind::value, value_s, 0.1, asked, none).outcome,
                          decided(BoundKind::value, value_s, 0.1, asked, "simple").outcome);
}

RC_GTEST_PROP(GuardedRule, NeverSaysBetterThanTheSimpleOneAndNarrowsToIt, ()) {
    const double value_s = *rc::gen::inRange(1, 1000) / 1000.0, U_s = *rc::gen::inRange(1, 400) / 1000.0;
    const plan::Requirement asked = *rc::gen::element(below_half, to_half);
    const auto under = [&](const char* text) { return outcome_for(value_s, U_s, asked, rule(text)); };
    const bool met = under("simple") == Conformity::pass;
    for (const char* text : {"guarded:0.5U", "guarded", "guarded:3U", "guarded:0.05s"}) {
        const Conformity word = under(text);
        RC_ASSERT((word == Conformity::pass || word == Conformity::conditional_pass) == met);
        RC_ASSERT(word != Conformity::void_);
    }
    // A wider band never turns a conditional outcome into a plain one.
    RC_ASSERT(under("guarded:3U") != Conformity::pass || under("guarded") == Conformity::pass);
    RC_ASSERT(under("guarded:3U") != Conformity::fail || under("guarded") == Conformity::fail);
}

TEST(GuardedRule, WithoutAnUncertaintyIsVoidAndSaysSo) {
    for (const std::optional<double> unknown : {std::optional<double>(), std::optional(0.0)})
        for (const double value_s : {0.1, 0.9}) {
            const Finding finding = decided(BoundKind::value, value_s, unknown, below_half, "guarded");
            EXPECT_EQ(finding.outcome, Conformity::void_);
            EXPECT_FALSE(finding.guard_s || finding.wrong_acceptance || finding.wrong_rejection);
            EXPECT_NE(finding.reason.find("no uncertainty of it is known"), std::string::npos)
                << finding.reason;
            // A band in seconds needs no U.
            EXPECT_EQ(decided(BoundKind::value, value_s, unknown, below_half, "guarded:0.02s").outcome,
                      value_s < 0.5 ? Conformity::pass : Conformity::fail);
        }
    EXPECT_EQ(outcome_for(0.1, 0, below_half, rule("guarded")), Conformity::void_);
}

TEST(UpperBound, StandsAsItIsUnderABandOfUAndIsGuardedInSeconds) {
    const auto word = [](double bound_s, const char* under) {
        return decided(BoundKind::at_most, bound_s, {}, below_half, under).outcome;
    };
    // Proven to be shorter than 0.49 s: no uncertainty is left that could carry it over 0.5 s.
    EXPECT_EQ(word(0.49, "guarded"), Conformity::pass);
    EXPECT_EQ(word(0.49, "guarded:0.02s"), Conformity::conditional_pass);
    EXPECT_EQ(word(0.47, "guarded:0.02s"), Conformity::pass);
    EXPECT_EQ(word(0.7, "guarded"), Conformity::void_);
    EXPECT_EQ(word(0.51, "guarded:0.02s"), Conformity::void_) << "an upper bound never fails";
    EXPECT_EQ(decided(BoundKind::at_most, 0.47, {}, below_half, "guarded:0.02s").guard_s, 0.02);
    EXPECT_FALSE(decided(BoundKind::at_most, 0.47, {}, below_half, "guarded").guard_s);
}

TEST(LowerBound, FailsAsItIsUnderABandOfUAndBeyondTheBandInSeconds) {
    const auto word = [](double bound_s, const char* under) {
        return decided(BoundKind::at_least, bound_s, {}, below_half, under).outcome;
    };
    EXPECT_EQ(word(0.51, "guarded"), Conformity::fail);
    EXPECT_EQ(word(0.51, "guarded:0.02s"), Conformity::conditional_fail);
    EXPECT_EQ(word(0.53, "guarded:0.02s"), Conformity::fail);
    EXPECT_EQ(word(0.3, "guarded"), Conformity::void_);
    EXPECT_EQ(word(0.3, "guarded:0.02s"), Conformity::void_) << "a lower bound never passes";
}

// 1 - Phi(1.5) is 0.0668 and Phi(-1) 0.1587 in every table of the normal distribution.
TEST(Reason, ExplainsAConditionalOutcomeToACustomer) {
    const Finding near = decided(BoundKind::value, 0.47, 0.04, below_half, "guarded");
    EXPECT_EQ(near.reason,
              "0.470 s ± 0.040 s meets < 0.5 s but lies inside the guard band of 0.040 s: the true value may "
              "exceed the limit with a probability of 6.7 %");
    EXPECT_TRUE(agrees(*near.wrong_acceptance, "0.0668"));
    EXPECT_FALSE(near.wrong_rejection);
    const Finding over = decided(BoundKind::value, 0.52, 0.04, below_half, "guarded:0.03s");
    EXPECT_EQ(
        over.reason,
        "0.520 s ± 0.040 s does not meet < 0.5 s but lies beyond it by less than the guard band of 0.03 s: "
        "the true value may be within the limit with a probability of 15.9 %");
    EXPECT_TRUE(agrees(*over.wrong_rejection, "0.1587"));
    EXPECT_FALSE(over.wrong_acceptance);
}

TEST(Reason, SaysByHowMuchAGuardedResultPassesOrFails) {
    EXPECT_EQ(decided(BoundKind::value, 0.43, 0.04, below_half, "guarded").reason,
              "0.430 s ± 0.040 s meets < 0.5 s by at least w");
    EXPECT_EQ(decided(BoundKind::value, 0.58, 0.04, below_half, "guarded").reason,
              "0.580 s ± 0.040 s does not meet < 0.5 s, by at least w");
    EXPECT_EQ(decided(BoundKind::value, 0.43, 0.04, below_half, "simple").reason,
              "0.430 s ± 0.040 s meets < 0.5 s");
    EXPECT_NE(decided(BoundKind::value, 0.43, 0.6, below_half, "guarded").reason.find("no result could pass"),
              std::string::npos);
}

TEST(Risk, OfFewDegreesOfFreedomHasHeavierTails) {
    Finding finding;
    finding.bound = BoundKind::value;
    finding.value_s = 0.46;
    finding.u_s = 0.02;
    finding.degrees_of_freedom = 3;
    finding.expanded_u_s = 3.182 * 0.02;  // t(0.975; 3): Student's table
    decide(finding, below_half, rule("guarded"));
    // P(t(3) > 2) is 0.0697; the normal distribution would say 0.0228.
    EXPECT_TRUE(agrees(*finding.wrong_acceptance, "0.0697"));
    EXPECT_EQ(finding.outcome, Conformity::conditional_pass);
}

TEST(Risk, AtTheGuardedLimitIsTwoAndAHalfPercent) {
    const auto run = measured(key("W1"), 0.44, 0.0306);
    plan::Order asked = order();
    asked.decision_rule = rule("guarded");
    const Judgement judgement =
        judge::judge({run}, asked, {}, specification({{each_run(Comparison::less, 0.5)}}));
    const Finding& finding = judgement.requirements[0].findings[0];
    // U = 1.95996 u = 0.059975 s, so that the value lies at the guarded limit but for 0.000025 s.
    EXPECT_TRUE(agrees(*finding.guard_s, "0.059975"));
    EXPECT_NEAR(*finding.wrong_acceptance, 0.025, 1e-4);
    EXPECT_EQ(judgement.statement, Conformity::pass);
}

/// Three classes by their limits, best first.
plan::Requirement graded() {
    plan::Requirement asked = each_run(Comparison::less_or_equal, 15);
    asked.grades = {{"A", 2}, {"B", 5}, {"C", 15}};
    return asked;
}

TEST(Class, IsTheBestOneWhoseLimitIsMetUnderTheRule) {
    const auto grade = [](double value_s, double U_s, const char* under) {
        return decided(BoundKind::value, value_s, U_s, graded(), under).grade;
    };
    EXPECT_EQ(grade(1.5, 0.2, "simple"), "A");
    EXPECT_EQ(grade(1.9, 0.2, "simple"), "A");
    EXPECT_EQ(grade(1.9, 0.2, "guarded"), "B") << "inside the guard band of class A";
    EXPECT_EQ(grade(2.1, 0.2, "simple"), "B");
    EXPECT_EQ(grade(14.9, 0.2, "guarded"), "") << "a conditional pass has no class";
    EXPECT_EQ(grade(16, 0.2, "simple"), "");
    EXPECT_EQ(decided(BoundKind::at_most, 1.9, {}, graded(), "guarded").grade, "A");
    EXPECT_EQ(decided(BoundKind::at_most, 1.9, {}, graded(), "guarded:0.2s").grade, "B");
    EXPECT_EQ(decided(BoundKind::at_least, 1, {}, graded(), "simple").grade, "");
}

TEST(Class, SaysWhenTheUncertaintySpansABoundary) {
    const auto reason = [](double value_s) {
        return decided(BoundKind::value, value_s, 0.2, graded(), "simple").reason;
    };
    EXPECT_NE(reason(1.9).find("class A; its uncertainty spans the limit of class A, 2 s"), std::string::npos)
        << reason(1.9);
    EXPECT_NE(reason(2.1).find("class B; its uncertainty spans the limit of class A, 2 s"),
              std::string::npos);
    EXPECT_EQ(reason(3).find("spans"), std::string::npos);
}

Judgement judged(std::vector<JudgedRun> runs, const plan::Specification& limits, const char* under) {
    plan::Order asked = order();
    asked.decision_rule = rule(under);
    return judge::judge(std::move(runs), asked, {}, limits);
}

// In order of gravity: fail, void, conditional fail, conditional pass, pass.
TEST(Statement, IsTheGravestOfItsDemands) {
    const auto each = specification({{each_run(Comparison::less, 0.5)}});
    const auto passing = measured(key("W1"), 0.1, 0.02), near = measured(key("W2"), 0.48, 0.02),
               over = measured(key("W3"), 0.51, 0.02), failing = measured(key("F1"), 0.9, 0.02),
               open = without_figure(key("F2"), decay::LevelStatus::too_noisy);
    const auto word = [&](std::vector<JudgedRun> runs) {
        return judged(std::move(runs), each, "guarded").statement;
    };
    EXPECT_EQ(word({passing}), Conformity::pass);
    EXPECT_EQ(word({passing, near}), Conformity::conditional_pass);
    EXPECT_EQ(word({passing, near, over}), Conformity::conditional_fail);
    EXPECT_EQ(word({near, over, open}), Conformity::void_) << "what is missing may hide a fail";
    EXPECT_EQ(word({near, over, open, failing}), Conformity::fail) << "what failed failed";
    EXPECT_EQ(word({near, not_recorded(key("F2"))}), Conformity::void_) << "a pass needs the whole plan";
}

// One alternative is enough, and the best one is taken; a void one may hide a pass, a conditional fail does
// not.
TEST(Alternatives, TakeTheBestOfTheirOutcomes) {
    const auto with_limits = [](double first_s, double second_s) {
        auto first = each_run(Comparison::less, first_s), second = mean_of({}, second_s);
        return specification({{first, second}});
    };
    // 0.48 s with U = 0.04 s: passes 0.6, passes 0.5 conditionally, fails 0.45 conditionally, fails 0.4.
    const std::vector<JudgedRun> runs{measured(key("W1"), 0.48, 0.02)};
    const auto word = [&](double first_s, double second_s) {
        return judged(runs, with_limits(first_s, second_s), "guarded").statement;
    };
    EXPECT_EQ(word(0.5, 0.6), Conformity::pass) << "a conditional alternative loses against a pass";
    EXPECT_EQ(word(0.4, 0.5), Conformity::conditional_pass);
    EXPECT_EQ(word(0.45, 0.5), Conformity::conditional_pass);
    EXPECT_EQ(word(0.4, 0.45), Conformity::conditional_fail);
    EXPECT_EQ(word(0.4, 0.3), Conformity::fail);
    const auto unasked = [](double limit_s) {
        return specification({{each_run(Comparison::less, limit_s),
                               requirement(plan::Statistic::each_run, Comparison::less, 0.5, "1/e")}});
    };
    EXPECT_EQ(judged(runs, unasked(0.45), "guarded").statement, Conformity::void_);
    EXPECT_EQ(judged(runs, unasked(0.5), "guarded").statement, Conformity::conditional_pass);
}

TEST(Reasons, GoFromTheGravestToTheMildest) {
    const Judgement judgement = judged(
        {measured(key("W1"), 0.48, 0.02), measured(key("W2"), 0.51, 0.02), measured(key("W3"), 0.9, 0.02)},
        specification({{each_run(Comparison::less, 0.5)}}), "guarded");
    ASSERT_EQ(judgement.reasons.size(), 3u);
    EXPECT_NE(judgement.reasons[0].find("W3"), std::string::npos);
    EXPECT_NE(judgement.reasons[1].find("W2"), std::string::npos);
    EXPECT_NE(judgement.reasons[2].find("W1"), std::string::npos);
}

TEST(History, GivesTheRiskOfTheRuleBeforeTheTest) {
    plan::Order asked = order();
    asked.decision_rule = rule("guarded:0.03s");
    asked.decision_rule.history = {{"each", 0.42, 0.05, "41 rolls"}, {"eahc", 0.4, 0.1, "a slip"}};
    const Judgement judgement =
        judge::judge({measured(key("W1"), 0.40, 0.02), measured(key("W2"), 0.41, 0.02)}, asked, {},
                     specification({{each_run(Comparison::less, 0.5)}}));
    const auto& risk = judgement.requirements[0].prior_risk;
    ASSERT_TRUE(risk);
    EXPECT_EQ(risk->u_s, 0.02);
    EXPECT_EQ(risk->guard_s, 0.03);
    const GlobalRisk expected = global_risk({0.42, 0.05}, 0.02, {{}, 0.5}, 0.03);
    EXPECT_EQ(risk->consumer, expected.consumer);
    EXPECT_EQ(risk->producer, expected.producer);
    EXPECT_TRUE(mentions(judgement.cautions, "'eahc' was not used"));
}

}  // namespace
