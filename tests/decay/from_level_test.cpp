// Decay times that count from a level on the fall: what cancels, what does not, and what is refused.

#include "decay/from_level.hpp"

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include <cmath>

#include "decay/figures.hpp"
#include "support/agrees.hpp"
#include "support/simulated_run.hpp"

namespace ebbtide::decay {
namespace {

using testing_support::agrees;
using testing_support::cut;
using testing_support::RunPlan;
using testing_support::simulate;

plan::DecayRules from(const char* start, const char* level) {
    plan::DecayRules rules;
    rules.from = *plan::parse_level(start);
    rules.levels = {*plan::parse_level(level)};
    return rules;
}

LevelFigure figure_of(const RunPlan& plan, const plan::DecayRules& rules,
                      const std::optional<plan::Bench>& bench = {}, std::uint64_t seed = 7) {
    const auto store = simulate(plan, seed);
    const auto runs = cut(store);
    if (runs.size() != 1) throw std::runtime_error("not one run");
    return figures_of(runs.front(), rules, bench).levels.front();
}

const Contribution* part(const LevelFigure& figure, const std::string& source) {
    for (const Contribution& c : figure.budget)
        if (c.source == source) return &c;
    return nullptr;
}

/// 5000 V, falling with a time constant of 1 s to below 100 V.
RunPlan five_kilovolts() {
    return {.fall_s = 8, .samples = 18000, .initial_V = 5000};
}

TEST(FromLevel, AnExponentialTakesTLnTenForEveryTenfoldFall) {
    for (const auto& [start, level] :
         {std::pair{"1000 V", "100 V"}, std::pair{"2 kV", "200 V"}, std::pair{"90 %", "9 %"}}) {
        const LevelFigure figure = figure_of(five_kilovolts(), from(start, level));
        ASSERT_EQ(figure.status, LevelStatus::measured) << start << ' ' << figure.reason;
        EXPECT_NEAR(*figure.decay_s, std::log(10.0), 2e-3) << start;
    }
}

TEST(FromLevel, IsNotMovedByTheReleaseThatNobodySaw) {
    // A fall that has gone on for half a second when the record starts.
    RunPlan plan = five_kilovolts();
    const auto whole = simulate(plan, 1);
    const std::size_t first = whole.view().at_or_after(1.5);
    const auto rest = whole.view().slice(first, whole.view().size());
    const trace::SampleStore late{{rest.time_s.begin(), rest.time_s.end()},
                                  {rest.value.begin(), rest.value.end()}};
    const auto runs = cut(late);
    ASSERT_EQ(runs.size(), 1u);
    const auto figure = figures_of(runs[0], from("1000 V", "100 V"), {}).levels[0];
    ASSERT_EQ(figure.status, LevelStatus::measured) << figure.reason;
    EXPECT_NEAR(*figure.decay_s, std::log(10.0), 2e-3);
    EXPECT_EQ(part(figure, "release"), nullptr);
}

TEST(FromLevel, AGainErrorMovesNothingBetweenTwoVoltagesOfAnExponential) {
    plan::Bench bench;
    bench.sensor.scale.u_gain = 0.01;
    const LevelFigure figure = figure_of(five_kilovolts(), from("1000 V", "100 V"), bench);
    // To 500 V from the release it would be 0.01 T.
    const Contribution* gain = part(figure, "sensor gain");
    EXPECT_LT(gain ? gain->u_s() : 0, 1e-4);
    // And so it is: what reads 3 % high takes the same time.
    RunPlan high = five_kilovolts();
    high.initial_V = 5150;
    EXPECT_NEAR(*figure_of(high, from("1000 V", "100 V")).decay_s, *figure.decay_s, 2e-4);
}

TEST(FromLevel, AGainErrorMovesTheTimeBetweenAVoltageAndAFraction) {
    // From 90 % of V0, which the gain moves, to 500 V, which it does not: T times the gain error.
    plan::Bench bench;
    bench.sensor.scale.u_gain = 0.01;
    const LevelFigure figure = figure_of(five_kilovolts(), from("90 %", "500 V"), bench);
    ASSERT_NE(part(figure, "sensor gain"), nullptr);
    EXPECT_TRUE(agrees(part(figure, "sensor gain")->u_s(), "0.010"));
}

TEST(FromLevel, AZeroErrorCountsByTheDifferenceOfBothEnds) {
    // T (1/100 V - 1/1000 V) times 10 V: 0.09 T.
    plan::DecayRules rules = from("1000 V", "100 V");
    rules.residual_limit_V = 10 * std::sqrt(3.0);
    const LevelFigure figure = figure_of(five_kilovolts(), rules);
    ASSERT_NE(part(figure, "zero"), nullptr);
    EXPECT_TRUE(agrees(part(figure, "zero")->u_s(), "0.090"));
    // And so it is: a trace that lies 10 V high gives -T (ln(1 - 10/100) - ln(1 - 10/1000)) more.
    auto store = simulate(five_kilovolts(), 7);
    auto runs = cut(store);
    for (std::size_t i = store.view().at_or_after(0.75); i < store.value.size(); ++i) store.value[i] += 10;
    const auto moved = figures_of(cut(store).at(0), from("1000 V", "100 V"), {}).levels[0];
    EXPECT_NEAR(*moved.decay_s - *figure.decay_s, -std::log(0.9) + std::log(0.99), 2e-3);
}

TEST(FromLevel, LagDelaysBothEndsAlikeAndIsNotTakenOffTwice) {
    plan::Bench bench;
    bench.sensor.lag_s = 0.02;
    bench.sensor.u_lag_s = 0.01;
    RunPlan plan = five_kilovolts();
    // An exponential of 1 s seen through a first-order sensor of 0.02 s.
    plan.fall = [](double t) { return (std::exp(-t) - 0.02 * std::exp(-t / 0.02)) / 0.98; };
    const LevelFigure figure = figure_of(plan, from("1000 V", "100 V"), bench);
    ASSERT_EQ(figure.status, LevelStatus::measured) << figure.reason;
    EXPECT_NEAR(*figure.decay_s, std::log(10.0), 2e-3);
    EXPECT_EQ(part(figure, "sensor lag"), nullptr);
}

TEST(FromLevel, WithoutAnInitialVoltageClearlyAboveItIsRefusedWithBothVoltages) {
    RunPlan plan = five_kilovolts();
    plan.initial_V = 980;
    const LevelFigure figure = figure_of(plan, from("1000 V", "100 V"));
    EXPECT_EQ(figure.status, LevelStatus::refused);
    EXPECT_NE(figure.reason.find("980"), std::string::npos) << figure.reason;
    EXPECT_NE(figure.reason.find("1000"), std::string::npos) << figure.reason;
    plan.initial_V = 1003;
    plan.noise_V = 100;  // three volts above, known to some volts only
    EXPECT_EQ(figure_of(plan, from("1000 V", "100 V")).status, LevelStatus::refused);
}

TEST(FromLevel, NotAboveTheLevelIsRefused) {
    EXPECT_EQ(figure_of(five_kilovolts(), from("1 %", "100 V")).status, LevelStatus::refused);
}

TEST(FromLevel, ARecordThatEndsBetweenTheTwoIsALowerBoundFromTheStartLevel) {
    RunPlan plan = five_kilovolts();
    plan.fall_s = 3;  // 1000 V after ln 5 = 1.609 s
    plan.samples = 8000;
    const LevelFigure figure = figure_of(plan, from("1000 V", "100 V"));
    EXPECT_EQ(figure.status, LevelStatus::not_reached);
    EXPECT_NEAR(*figure.at_least_s, 3 - std::log(5.0), 2e-3);
    plan.fall_s = 1;
    const LevelFigure before = figure_of(plan, from("1000 V", "100 V"));
    EXPECT_EQ(before.status, LevelStatus::not_reached);
    EXPECT_EQ(*before.at_least_s, 0);
}

TEST(FromLevel, AStartLevelPassedBeforeTheFirstSampleLeavesAnUpperBound) {
    RunPlan plan = five_kilovolts();
    plan.fall = [](double t) { return 0.15 * std::exp(-t); };  // most of it falls with the clamps
    const LevelFigure figure = figure_of(plan, from("1000 V", "100 V"));
    ASSERT_EQ(figure.status, LevelStatus::below_resolution) << figure.reason;
    EXPECT_FALSE(figure.decay_s.has_value());
    EXPECT_NEAR(*figure.at_most_s, std::log(7.5), 5e-3);
}

RC_GTEST_PROP(FromLevel, TheTimesOfTwoStretchesAddUp, ()) {
    // From 4000 V to 1000 V and on to 100 V, for falls of any stretch: t(100) - t(4000) in one and in two.
    const double stretch = *rc::gen::inRange(60, 100) / 100.0;
    RunPlan plan = five_kilovolts();
    plan.fall_s = 20;
    plan.samples = 20000;
    plan.fall = [=](double t) { return std::exp(-std::pow(t, stretch)); };
    const double upper_s = *figure_of(plan, from("4000 V", "1000 V")).decay_s;
    const double lower_s = *figure_of(plan, from("1000 V", "100 V")).decay_s;
    const double whole_s = *figure_of(plan, from("4000 V", "100 V")).decay_s;
    RC_ASSERT(std::abs(upper_s + lower_s - whole_s) < 1e-9 * whole_s);
    const auto time_of = [&](double share) { return std::pow(-std::log(share), 1 / stretch); };
    RC_ASSERT(std::abs(whole_s - time_of(0.02) + time_of(0.8)) < 2e-3 * whole_s);
}

TEST(NominalStart, OfFoamCountsFromTheGroundingToFiveHundredVoltsWhateverWasAccepted) {
    // 5000 V asked, 4950 V accepted: T ln(4950/500) from the grounding, not T ln 10.
    plan::DecayRules rules;
    rules.basis = plan::InitialBasis::nominal;
    rules.stated_initial_V = 5000;
    rules.levels = {*plan::parse_level("500 V")};
    RunPlan plan = five_kilovolts();
    plan.initial_V = 4950;
    plan.noise_V = 2;
    const LevelFigure figure = figure_of(plan, rules);
    ASSERT_EQ(figure.status, LevelStatus::measured) << figure.reason;
    EXPECT_NEAR(*figure.decay_s, std::log(9.9), 3 * *figure.u_decay_s);
    EXPECT_LT(*figure.u_decay_s, 0.25 * (std::log(10.0) - std::log(9.9)));
}

TEST(NominalStart, MakesAFractionAVoltageSoThatGainAndZeroCountInFull) {
    plan::Bench bench;
    bench.sensor.scale.u_gain = 0.01;
    plan::DecayRules rules;
    rules.basis = plan::InitialBasis::nominal;
    rules.stated_initial_V = 5000;
    rules.residual_limit_V = 10 * std::sqrt(3.0);
    rules.levels = {*plan::parse_level("10 %"), *plan::parse_level("500 V")};
    const auto store = simulate(five_kilovolts(), 7);
    const Figures figures = figures_of(cut(store).at(0), rules, bench);
    for (const LevelFigure& figure : figures.levels) {
        EXPECT_TRUE(agrees(part(figure, "sensor gain")->u_s(), "0.010"));
        EXPECT_TRUE(agrees(part(figure, "zero")->u_s(), "0.020"));  // T 10 V/500 V
    }
}

}  // namespace
}  // namespace ebbtide::decay
