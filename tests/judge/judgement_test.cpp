// From runs to a word: what passes, what fails, and what cannot be told.

#include "judge/judgement.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <algorithm>

#include "judge/invented_runs.hpp"
#include "support/agrees.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::judge;
using namespace ebbtide::judge::testing_support;
using ebbtide::testing_support::agrees;
using plan::Comparison;
using plan::Conformity;
using plan::FlagCode;
using plan::GroupKey;

Judgement judged(std::vector<JudgedRun> runs, const plan::Specification& limits,
                 const plan::Method& method = {}) {
    return judge::judge(std::move(runs), order(), method, limits);
}

Conformity word(std::vector<JudgedRun> runs, const plan::Specification& limits,
                const plan::Method& method = {}) {
    return judged(std::move(runs), limits, method).statement;
}

const plan::Specification each_below_half = specification({{each_run(Comparison::less, 0.5)}});
const plan::Specification mean_to_half = specification({{mean_of({}, 0.5)}});

TEST(Limit, ItselfMeetsLessOrEqualAndNotLess) {
    const auto exactly = measured(key("W1"), 0.5);
    EXPECT_EQ(word({exactly}, specification({{each_run(Comparison::less_or_equal, 0.5)}})), Conformity::pass);
    EXPECT_EQ(word({exactly}, each_below_half), Conformity::fail);
    const auto above = measured(key("W1"), std::nextafter(0.5, 1));
    EXPECT_EQ(word({above}, specification({{each_run(Comparison::less_or_equal, 0.5)}})), Conformity::fail);
    const auto below = measured(key("W1"), std::nextafter(0.5, 0));
    EXPECT_EQ(word({below}, each_below_half), Conformity::pass);
}

// MIL-DTL-44031E 3.10 takes averages of 0.5 s or less, 4.5.4.4.5 results under 0.5 s: both are asked.
TEST(Limit, TwoClausesOfOneDocumentDisagreeAtTheLimitItself) {
    const auto both = specification(
        {{mean_of({GroupKey::direction, GroupKey::state}, 0.5)}, {each_run(Comparison::less, 0.5)}});
    const auto outcomes = [&](std::vector<JudgedRun> runs) {
        const Judgement judgement = judged(std::move(runs), both);
        return std::array{judgement.requirements[0].outcome, judgement.requirements[1].outcome,
                          judgement.statement};
    };
    // An average of exactly 0.5 s out of 0.25 s and 0.75 s: the average clause is met, the other is not.
    EXPECT_EQ(outcomes({measured(key("W1"), 0.25), measured(key("W2"), 0.75)}),
              (std::array{Conformity::pass, Conformity::fail, Conformity::fail}));
    // A result of exactly 0.5 s fails the one clause although the average is far below.
    EXPECT_EQ(outcomes({measured(key("W1"), 0.25), measured(key("W2"), 0.5)}),
              (std::array{Conformity::pass, Conformity::fail, Conformity::fail}));
    EXPECT_EQ(outcomes({measured(key("W1"), 0.25), measured(key("W2"), 0.375)}),
              (std::array{Conformity::pass, Conformity::pass, Conformity::pass}));
}

TEST(Mean, IsTakenOverDirectionAndStateApart) {
    const auto limits = specification({{mean_of({GroupKey::direction, GroupKey::state}, 0.5)}});
    const Judgement judgement =
        judged({measured(key("W1"), 0.25), measured(key("W2"), 0.375), measured(key("W3"), 0.5),
                measured(key("F1"), 0.75), measured(key("F2"), 0.125)},
               limits);
    const auto& findings = judgement.requirements[0].findings;
    ASSERT_EQ(findings.size(), 4u);
    EXPECT_EQ(findings[0].group, "warp, as received");
    EXPECT_EQ(findings[0].runs, (std::vector<std::size_t>{0, 1}));
    EXPECT_DOUBLE_EQ(*findings[0].value_s, 0.3125);
    EXPECT_EQ(findings[1].group, "warp, washed");
    EXPECT_EQ(findings[2].group, "filling, as received");
    // A slow filling direction cannot hide behind a fast warp.
    EXPECT_EQ(findings[2].outcome, Conformity::fail);
    EXPECT_EQ(findings[3].outcome, Conformity::pass);
    EXPECT_EQ(judgement.statement, Conformity::fail);
}

TEST(Mean, WithoutKeysIsOneOfAllRuns) {
    const Judgement judgement = judged({measured(key("W1"), 0.25), measured(key("F1"), 0.5)}, mean_to_half);
    ASSERT_EQ(judgement.requirements[0].findings.size(), 1u);
    EXPECT_EQ(judgement.requirements[0].findings[0].group, "all runs");
    EXPECT_DOUBLE_EQ(*judgement.requirements[0].findings[0].value_s, 0.375);
}

TEST(Mean, GroupsBySpecimenFacePolarityAndConditionsToo) {
    auto back = measured(key("W1", 1), 0.2);
    back.key.face = "back";
    auto moist = measured(key("W1", 1), 0.2);
    moist.key.conditions = "moist";
    const std::vector<JudgedRun> runs{measured(key("W1", 1), 0.2), measured(key("W2", 1), 0.2), back,
                                      measured(key("W1", 1, plan::Polarity::negative), 0.2), moist};
    const auto groups = [&](GroupKey by) {
        return judged(runs, specification({{mean_of({by}, 0.5)}})).requirements[0].findings.size();
    };
    for (const GroupKey by : {GroupKey::specimen, GroupKey::face, GroupKey::polarity, GroupKey::conditions})
        EXPECT_EQ(groups(by), 2u) << plan::name_of(by);
    EXPECT_EQ(groups(GroupKey::direction), 1u);
}

TEST(NotReached, CanProveFailureAndNeverAPass) {
    // 2 s and more in one of two runs: the mean is over 0.5 s whatever the record would have shown later.
    const Judgement failing = judged({measured(key("W1"), 0.1), not_reached(key("W2"), 2)}, mean_to_half);
    EXPECT_EQ(failing.statement, Conformity::fail);
    EXPECT_EQ(failing.requirements[0].findings[0].bound, BoundKind::at_least);
    EXPECT_DOUBLE_EQ(*failing.requirements[0].findings[0].value_s, 1.05);
    // 0.3 s and more: the bound lies under the limit, the truth may not.
    EXPECT_EQ(word({measured(key("W1"), 0.1), not_reached(key("W2"), 0.3)}, mean_to_half), Conformity::void_);
    EXPECT_EQ(word({not_reached(key("W1"), 0.3)}, each_below_half), Conformity::void_);
    EXPECT_EQ(word({not_reached(key("W1"), 0.7)}, each_below_half), Conformity::fail);
    // "Longer than 0.5 s" leaves 0.5 s open under <=; under < it is over.
    EXPECT_EQ(word({not_reached(key("W1"), 0.5)}, mean_to_half), Conformity::void_);
    EXPECT_EQ(word({not_reached(key("W1"), 0.5)}, each_below_half), Conformity::fail);
}

TEST(NotReached, NeverLendsANumberToAMean) {
    const Judgement judgement =
        judged({measured(key("W1"), 0.4, 0.01), not_reached(key("W2"), 0.4)}, mean_to_half);
    const Finding& finding = judgement.requirements[0].findings[0];
    EXPECT_FALSE(finding.u_s || finding.expanded_u_s || finding.spread_s || finding.wrong_acceptance);
    EXPECT_NE(finding.reason.find("longer than"), std::string::npos) << finding.reason;
}

TEST(BelowResolution, CanProveAPassAndNeverFailure) {
    EXPECT_EQ(word({measured(key("W1"), 0.1), below_resolution(key("W2"), 0.03)}, mean_to_half),
              Conformity::pass);
    EXPECT_EQ(word({below_resolution(key("W1"), 0.03)}, each_below_half), Conformity::pass);
    // The bench resolves 0.7 s at best: nothing is known about 0.5 s.
    EXPECT_EQ(word({below_resolution(key("W1"), 0.7)}, each_below_half), Conformity::void_);
    EXPECT_EQ(word({measured(key("W1"), 0.9), below_resolution(key("W2"), 0.7)}, mean_to_half),
              Conformity::void_);
}

TEST(Bounds, OfBothKindsBoundNoMean) {
    const Judgement judgement =
        judged({not_reached(key("W1"), 9), below_resolution(key("W2"), 0.03)}, mean_to_half);
    EXPECT_EQ(judgement.statement, Conformity::void_);
    EXPECT_EQ(judgement.requirements[0].findings[0].bound, BoundKind::none);
    EXPECT_FALSE(judgement.requirements[0].findings[0].value_s);
}

TEST(PlanGap, OfReplicatesPolaritiesFacesAndDirectionsKeepsAnOrderFromPassing) {
    plan::Method method;
    method.replicates = 2;
    method.charging.polarities = "both";
    method.faces = {"front", "back"};
    method.directions = {"diagonal"};
    const Judgement gaps = judged({measured(key("W1"), 0.1)}, each_below_half, method);
    EXPECT_EQ(gaps.statement, Conformity::void_);
    EXPECT_TRUE(mentions(gaps.reasons, "W1 front dry +: 1 of 2 replicates planned"));
    EXPECT_TRUE(mentions(gaps.reasons, "W1 front dry -: 0 of 2 replicates planned"));
    EXPECT_TRUE(mentions(gaps.reasons, "W1: face 'back' is not planned"));
    EXPECT_TRUE(mentions(gaps.reasons, "no specimen of direction 'diagonal' is planned"));
    // What fails is shown all the same.
    EXPECT_EQ(judged({measured(key("W1"), 0.9)}, each_below_half, method).statement, Conformity::fail);
}

TEST(NoFigure, LeavesTheStatementVoid) {
    using decay::LevelStatus;
    for (const auto status : {LevelStatus::too_noisy, LevelStatus::refused, LevelStatus::extrapolated}) {
        const auto run = without_figure(key("W1"), status);
        EXPECT_EQ(word({run}, each_below_half), Conformity::void_);
        const Judgement mean = judged({run, measured(key("W2"), 0.1)}, mean_to_half);
        EXPECT_EQ(mean.statement, Conformity::void_);
        EXPECT_TRUE(mentions(mean.reasons, "W1 front dry + 1: " + plan::in_words(decay::name_of(status))));
        // What another run shows is not hidden by it.
        EXPECT_EQ(word({run, measured(key("W2"), 0.9)}, each_below_half), Conformity::fail);
    }
}

TEST(ExtrapolatedTime, CountsWhereTheMethodBroughtItAboutAndIsCautionedAgainst) {
    const Judgement slow = judged({extrapolated(key("W1"), 0.9, 0.05)}, each_below_half);
    EXPECT_EQ(slow.statement, Conformity::fail);
    EXPECT_TRUE(mentions(slow.cautions, "beyond their records"));
    const Judgement quick =
        judged({extrapolated(key("W1"), 0.3, 0.02), measured(key("W2"), 0.1)}, mean_to_half);
    EXPECT_NE(quick.statement, Conformity::fail);
    EXPECT_TRUE(mentions(quick.cautions, "beyond their records"));
    EXPECT_FALSE(
        mentions(judged({measured(key("W1"), 0.9)}, each_below_half).cautions, "beyond their records"));
}

TEST(NoFigure, ToALevelThatTheMethodDoesNotTakeIsSaidSo) {
    const auto limits =
        specification({{requirement(plan::Statistic::each_run, Comparison::less, 0.5, "1/e")}});
    const Judgement judgement = judged({measured(key("W1"), 0.1)}, limits);
    EXPECT_EQ(judgement.statement, Conformity::void_);
    EXPECT_TRUE(mentions(judgement.reasons, "the method takes no decay time to 1/e"));
}

TEST(VoidedRun, DoesNotCountAndLeavesItsPlaceOpen) {
    const auto clipped = flagged(measured(key("W1"), 0.9), FlagCode::clipped);
    const Judgement judgement = judged({clipped, measured(key("W2"), 0.1)}, each_below_half);
    EXPECT_FALSE(judgement.runs[0].counts);
    EXPECT_EQ(judgement.requirements[0].outcome, Conformity::pass);
    EXPECT_EQ(judgement.statement, Conformity::void_);
    EXPECT_TRUE(mentions(judgement.reasons, "W1 front dry + 1: no run that counts (clipped)"));
}

TEST(VoidedRun, PlaceIsFilledByARetestOfTheSameKey) {
    const auto spoiled = flagged(measured(key("W1"), 0.9), FlagCode::set_aside, "door opened at 0.2 s");
    const auto retest = flagged(measured(key("W1"), 0.1), FlagCode::retested, "door opened at 0.2 s");
    const Judgement judgement = judged({spoiled, retest, measured(key("W2"), 0.1)}, each_below_half);
    EXPECT_EQ(judgement.statement, Conformity::pass);
    ASSERT_EQ(judgement.runs.size(), 3u) << "the original stays in the report";
    EXPECT_FALSE(judgement.runs[0].counts);
    // A retest of another place fills nothing.
    const auto elsewhere = flagged(measured(key("W1", 2), 0.1), FlagCode::retested);
    EXPECT_EQ(word({spoiled, elsewhere}, each_below_half), Conformity::void_);
    // A retest that is spoiled itself fills nothing either.
    EXPECT_EQ(word({spoiled, flagged(retest, FlagCode::clipped)}, each_below_half), Conformity::void_);
}

TEST(Retest, OfARunThatCountsReplacesNothing) {
    EXPECT_EQ(word({measured(key("W1"), 0.9), flagged(measured(key("W1"), 0.1), FlagCode::retested)},
                   each_below_half),
              Conformity::fail);
}

TEST(MissingRun, LeavesAPassVoidAndAFailureStanding) {
    const auto missing = not_recorded(key("W2"));
    const Judgement open = judged({measured(key("W1"), 0.1), missing}, each_below_half);
    EXPECT_EQ(open.statement, Conformity::void_);
    EXPECT_TRUE(mentions(open.reasons, "W2 front dry + 1: no run that counts (run missing)"));
    EXPECT_EQ(word({measured(key("W1"), 0.9), missing}, each_below_half), Conformity::fail);
    EXPECT_EQ(word({missing}, each_below_half), Conformity::void_);
    EXPECT_EQ(word({}, each_below_half), Conformity::void_);
}

TEST(UnplannedRun, NeitherFillsAPlaceNorVoidsTheOrder) {
    auto extra = flagged(measured(key("W9"), 0.9), FlagCode::run_unplanned);
    const Judgement judgement = judged({measured(key("W1"), 0.1), extra}, each_below_half);
    EXPECT_FALSE(judgement.runs[1].counts) << "flags.md: it does not count";
    EXPECT_EQ(judgement.statement, Conformity::pass);
}

TEST(AnyOf, IsMetByOneOfItsAlternatives) {
    // EN 1149-5 has this shape: t(50 %) under 4 s, or something else (secondary: roots-original.com/en1149).
    const auto either = specification({{each_run(Comparison::less, 0.2), mean_of({}, 0.5)}});
    EXPECT_EQ(word({measured(key("W1"), 0.4)}, either), Conformity::pass);
    EXPECT_EQ(word({measured(key("W1"), 0.6)}, either), Conformity::fail);
    // One alternative fails, the other cannot be told: it may yet be met.
    EXPECT_EQ(word({not_reached(key("W1"), 0.3)}, either), Conformity::void_);
    // Every demand must be met, whichever alternatives meet the others.
    const auto two = specification(
        {{each_run(Comparison::less, 0.2), mean_of({}, 0.5)}, {each_run(Comparison::less, 0.3)}});
    EXPECT_EQ(word({measured(key("W1"), 0.4)}, two), Conformity::fail);
}

TEST(FailedSpecimen, FailsWithItsReasonWhateverTheTime) {
    const auto refusing =
        flagged(measured(key("W1"), 0.01), FlagCode::charge_not_accepted, "Initial voltage 300 V.");
    const Judgement judgement = judged({refusing, measured(key("W2"), 0.1)}, each_below_half);
    EXPECT_TRUE(judgement.runs[0].fails);
    EXPECT_TRUE(judgement.runs[0].counts);
    EXPECT_EQ(judgement.statement, Conformity::fail);
    EXPECT_FALSE(judgement.requirements[0].findings[0].value_s);
    EXPECT_TRUE(mentions(judgement.reasons, "W1 front dry + 1: Initial voltage 300 V."));
    EXPECT_EQ(word({refusing, measured(key("W2"), 0.1)}, mean_to_half), Conformity::fail);
    // A run that is void fails nothing: it was no test.
    EXPECT_EQ(word({flagged(refusing, FlagCode::clipped)}, each_below_half), Conformity::void_);
}

TEST(Consequence, IsTheOneThatTheMethodSets) {
    plan::Method strict;
    strict.consequences[FlagCode::spikes] = plan::Consequence::void_run;
    strict.consequences[FlagCode::charge_not_accepted] = plan::Consequence::void_run;
    strict.consequences[FlagCode::residual_high] = plan::Consequence::warn;
    const auto spiky = flagged(measured(key("W1"), 0.1), FlagCode::spikes);
    EXPECT_EQ(word({spiky}, each_below_half), Conformity::pass);
    EXPECT_EQ(word({spiky}, each_below_half, strict), Conformity::void_);
    const auto refusing = flagged(measured(key("W1"), 0.1), FlagCode::charge_not_accepted);
    EXPECT_EQ(word({refusing}, each_below_half), Conformity::fail);
    EXPECT_EQ(word({refusing}, each_below_half, strict), Conformity::void_);
    const auto charged = flagged(measured(key("W1"), 0.1), FlagCode::residual_high);
    EXPECT_EQ(word({charged}, each_below_half), Conformity::void_);
    const Judgement mild = judged({charged}, each_below_half, strict);
    EXPECT_EQ(mild.statement, Conformity::pass);
    EXPECT_EQ(mild.runs[0].flags[0].consequence, plan::Consequence::warn);
}

TEST(Reasons, BeginWithWhatDecidedTheStatement) {
    const Judgement slow = judged({without_figure(key("W1"), decay::LevelStatus::too_noisy),
                                   not_recorded(key("W3")), measured(key("W2"), 0.9)},
                                  each_below_half);
    ASSERT_EQ(slow.statement, Conformity::fail);
    EXPECT_NE(slow.reasons.front().find("W2 front dry + 1"), std::string::npos) << slow.reasons.front();
    const Judgement refusing = judged({without_figure(key("W1"), decay::LevelStatus::too_noisy),
                                       flagged(measured(key("W2"), 0.1), FlagCode::charge_not_accepted)},
                                      each_below_half);
    ASSERT_EQ(refusing.statement, Conformity::fail);
    EXPECT_NE(refusing.reasons.front().find("W2 front dry + 1"), std::string::npos)
        << refusing.reasons.front();
}

// 1 - 0.05^(1/3) = 0.6316: three of three passing says this little of a lot (Clopper-Pearson).
TEST(Caution, ThreeOfThreePassingStillAllowsManyToFail) {
    const Judgement judgement = judged({measured(key("W1"), 0.1), measured(key("W1", 2), 0.1),
                                        measured(key("W2"), 0.1), measured(key("W3"), 0.1)},
                                       each_below_half);
    ASSERT_EQ(judgement.cautions.size(), 1u);
    EXPECT_TRUE(mentions(judgement.cautions, "3 of 3 passing would still allow 63 % of the lot to fail"))
        << judgement.cautions[0];
    EXPECT_TRUE(judged({measured(key("W1"), 0.9)}, each_below_half).cautions.empty());
}

// JCGM 106:2012: limit -5.40, result -5.47, u 0.05 gives a probability of conformity of 0.919. The same with
// 6 added to both: times are positive.
TEST(WrongAcceptance, IsThatOfTheGuideToConformityAssessment) {
    const auto limits = specification({{each_run(Comparison::less_or_equal, 0.60)}});
    const Judgement judgement = judged({measured(key("W1"), 0.53, 0.05)}, limits);
    const Finding& finding = judgement.requirements[0].findings[0];
    ASSERT_TRUE(finding.wrong_acceptance);
    EXPECT_TRUE(agrees(1 - *finding.wrong_acceptance, "0.919"));
    // At the limit itself an acceptance under the simple rule is wrong half of the time (ILAC-G8:09/2019).
    const Judgement at_limit = judged({measured(key("W1"), 0.60, 0.05)}, limits);
    EXPECT_NEAR(*at_limit.requirements[0].findings[0].wrong_acceptance, 0.5, 1e-12);
    // Nothing was accepted, so no acceptance can be wrong.
    const Judgement refused = judged({measured(key("W1"), 0.61, 0.05)}, limits);
    EXPECT_FALSE(refused.requirements[0].findings[0].wrong_acceptance);
}

TEST(UncertaintyOfAMean, OnlyTheRunsOwnPartsAverageDown) {
    // By hand: noise 0.03 s a run over 9 runs is 0.01 s; the lag's 0.02 s is the same in all of them.
    std::vector<JudgedRun> runs;
    for (int i = 1; i <= 9; ++i) runs.push_back(measured(key("W1", i), 0.30, 0.03, 0.02));
    const Finding nine = judged(runs, mean_to_half).requirements[0].findings[0];
    EXPECT_NEAR(*nine.u_s, std::sqrt(0.01 * 0.01 + 0.02 * 0.02), 1e-12);
    // No degrees of freedom are stated: U is 1.960 u (normal, 95 %).
    EXPECT_TRUE(agrees(*nine.expanded_u_s / *nine.u_s, "1.960"));
    EXPECT_NEAR(*nine.spread_s, 0, 1e-12);
    const Finding one = judged({runs[0]}, mean_to_half).requirements[0].findings[0];
    EXPECT_NEAR(*one.u_s, std::hypot(0.03, 0.02), 1e-12);
    EXPECT_FALSE(one.spread_s);
}

TEST(UncertaintyOfAMean, SharedPartsOfUnequalRunsAddAsTheyAre) {
    // The lag moves both runs together: by 0.01 s and by 0.03 s, their mean by 0.02 s.
    const Finding finding =
        judged({measured(key("W1"), 0.2, 0, 0.01), measured(key("W2"), 0.4, 0, 0.03)}, mean_to_half)
            .requirements[0]
            .findings[0];
    EXPECT_NEAR(*finding.u_s, 0.02, 1e-12);
    // Spread between runs is no measurement uncertainty: s of 0.2 and 0.4 is 0.2/sqrt(2).
    EXPECT_NEAR(*finding.spread_s, 0.2 / std::sqrt(2.0), 1e-12);
}

// Welch-Satterthwaite as in a published test of a measurement-uncertainty program (suncal): 0.57 with 9
// degrees of freedom beside 0.25 with infinitely many gives 12.8.
TEST(DegreesOfFreedom, FollowWelchAndSatterthwaite) {
    const std::vector<decay::Contribution> budget{{"noise", 0.57, "s", 1, 9.0, decay::Scope::run, ""},
                                                  {"lag", 0.25, "s", 1, {}, decay::Scope::bench, ""}};
    EXPECT_TRUE(agrees(decay::effective_degrees_of_freedom(budget).value(), "12.8"));
    // The expanded uncertainty takes them: t(0.975; 12.8) is 2.16 (t(12) 2.179, t(13) 2.160: Student's
    // table).
    JudgedRun run = measured(key("W1"), 5);
    run.figures->levels[0].budget = budget;
    run.figures->levels[0].u_decay_s = decay::combined_u_s(budget);
    run.figures->levels[0].degrees_of_freedom = decay::effective_degrees_of_freedom(budget);
    const Finding finding = judged({run}, specification({{mean_of({}, 9)}})).requirements[0].findings[0];
    EXPECT_GT(*finding.expanded_u_s / *finding.u_s, 2.160);
    EXPECT_LT(*finding.expanded_u_s / *finding.u_s, 2.179);
}

// Whatever comes in, a word comes out, and it is never a better one than the runs allow.
RC_GTEST_PROP(Statement, NeverPassesWithAnythingOpenOrOver, ()) {
    const auto count = *rc::gen::inRange(0, 6);
    std::vector<JudgedRun> runs;
    bool clean = count > 0, over = false;
    for (int i = 0; i < count; ++i) {
        const double time_s = *rc::gen::inRange(1, 100) / 100.0;
        const plan::RunKey at = key("W1", i + 1);
        switch (*rc::gen::inRange(0, 6)) {
            case 0:
                runs.push_back(not_reached(at, time_s));
                clean = false;
                over = over || time_s >= 0.5;
                break;
            case 1:
                runs.push_back(below_resolution(at, time_s));
                clean = clean && time_s < 0.5;
                break;
            case 2:
                runs.push_back(flagged(measured(at, time_s), FlagCode::clipped));
                clean = false;
                break;
            case 3:
                runs.push_back(without_figure(at, decay::LevelStatus::too_noisy));
                clean = false;
                break;
            default:
                runs.push_back(measured(at, time_s, 0.01));
                clean = clean && time_s < 0.5;
                over = over || time_s >= 0.5;
        }
    }
    const Conformity expected = over ? Conformity::fail : clean ? Conformity::pass : Conformity::void_;
    const Judgement judgement = judged(runs, each_below_half);
    RC_ASSERT(judgement.statement == expected);
    RC_ASSERT(!judgement.reasons.empty());
}

}  // namespace
