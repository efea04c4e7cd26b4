// What decay figures say of runs with a known truth: statuses, bases of V0, zero, budget, and what must not
// change them.

#include "decay/figures.hpp"

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include <cmath>

#include "support/agrees.hpp"
#include "support/known_fall.hpp"
#include "support/simulated_run.hpp"

namespace ebbtide::decay {
namespace {

using testing_support::agrees;
using testing_support::cut;
using testing_support::KnownFall;
using testing_support::RunPlan;
using testing_support::simulate;

double exponential(double t) {
    return std::exp(-t);
}

bool has_flag(const Figures& figures, plan::FlagCode code) {
    for (const plan::Flag& flag : figures.flags)
        if (flag.code == code) return true;
    return false;
}

const Contribution* part(const LevelFigure& level, const std::string& source) {
    for (const Contribution& c : level.budget)
        if (c.source == source) return &c;
    return nullptr;
}

plan::DecayRules rules_for(std::initializer_list<const char*> levels) {
    plan::DecayRules rules;
    for (const char* level : levels) rules.levels.push_back(*plan::parse_level(level));
    return rules;
}

Figures figures_of_plan(const RunPlan& plan, const plan::DecayRules& rules,
                        const std::optional<plan::Bench>& bench = {}, std::uint64_t seed = 7) {
    const auto store = simulate(plan, seed);
    const auto runs = cut(store);
    if (runs.size() != 1) throw std::runtime_error("not one run");
    return figures_of(runs.front(), rules, bench);
}

TEST(Levels, MayBeVoltages) {
    const auto figures =
        testing_support::figures_of({.fraction = exponential, .initial_V = 5000}, {"500 V", "0.5 kV", "0.1"});
    EXPECT_NEAR(*figures.levels[0].decay_s, std::log(10.0), 1e-4);
    EXPECT_EQ(figures.levels[0].decay_s, figures.levels[1].decay_s);
    EXPECT_NEAR(*figures.levels[2].decay_s, *figures.levels[0].decay_s, 1e-9);
}

TEST(Levels, AboveTheInitialVoltageAreRefusedWithBothVoltages) {
    const auto figures = testing_support::figures_of({.fraction = exponential, .initial_V = 400}, {"500 V"});
    EXPECT_EQ(figures.levels[0].status, LevelStatus::refused);
    EXPECT_NE(figures.levels[0].reason.find("500"), std::string::npos);
    EXPECT_NE(figures.levels[0].reason.find("400"), std::string::npos);
}

TEST(Levels, NotReachedKeepTheLengthOfTheRecordAndNoNumber) {
    const auto figures =
        testing_support::figures_of({.fraction = exponential, .record_s = 1.5}, {"0.5", "0.1"});
    EXPECT_EQ(figures.levels[0].status, LevelStatus::measured);
    EXPECT_EQ(figures.levels[1].status, LevelStatus::not_reached);
    EXPECT_FALSE(figures.levels[1].decay_s.has_value());
    EXPECT_NEAR(*figures.levels[1].at_least_s, 1.5, 0.01);
    EXPECT_NEAR(*figures.remaining_fraction, std::exp(-1.46), 0.02);
}

TEST(Levels, FasterThanTheBenchResolvesAreAnUpperBound) {
    plan::Bench bench;
    bench.sensor.resolution_s = 3;
    const auto figures = testing_support::figures_of({.fraction = exponential}, {"0.1", "0.01"}, bench);
    EXPECT_EQ(figures.levels[0].status, LevelStatus::below_resolution);
    EXPECT_GE(*figures.levels[0].at_most_s, 3);
    EXPECT_FALSE(figures.levels[0].decay_s.has_value());
    EXPECT_EQ(figures.levels[1].status, LevelStatus::measured);  // 4.6 s
}

TEST(LevelZero, NeedsAFloor) {
    EXPECT_FALSE(problems_of(rules_for({"0"})).empty());
    plan::DecayRules rules = rules_for({"0"});
    rules.zero_floor = {plan::ZeroFloor::Kind::fraction, 0.02};
    EXPECT_TRUE(problems_of(rules).empty());
    const RunPlan run{.initial_V = 5000, .noise_V = 1};
    const auto figures = figures_of_plan(run, rules);
    EXPECT_NEAR(*figures.levels[0].decay_s, std::log(50.0), 4 * *figures.levels[0].u_decay_s);
}

TEST(LevelZero, IsRefusedWhereTheFloorDrownsInNoise) {
    plan::DecayRules rules = rules_for({"0"});
    rules.zero_floor = {plan::ZeroFloor::Kind::absolute_V, 20};
    const auto figures = figures_of_plan({.initial_V = 5000, .noise_V = 10}, rules);
    EXPECT_EQ(figures.levels[0].status, LevelStatus::refused);
}

TEST(Noise, ThatHidesTheLevelIsSaidSo) {
    const auto figures = figures_of_plan({.samples = 400, .noise_V = 0.05}, rules_for({"0.01"}));
    EXPECT_EQ(figures.levels[0].status, LevelStatus::too_noisy);
    EXPECT_FALSE(figures.levels[0].reason.empty());
}

TEST(ZeroError, MovesTheTenPercentTimeByTheKnownShare) {
    // T (1 - p)/p u(z)/V0: 10 V on 5 kV moves t(10 %) by 1.8 % of T and t(1 %) by 19.8 %.
    plan::DecayRules rules = rules_for({"0.1", "0.01"});
    rules.residual_limit_V = 10 * std::sqrt(3.0);  // as what may be left on an unproven zero: u = 10 V
    const auto figures =
        figures_of_plan({.fall_s = 8, .samples = 20000, .initial_V = 5000, .noise_V = 0.1}, rules);
    EXPECT_TRUE(agrees(part(figures.levels[0], "zero")->u_s(), "0.018"));
    EXPECT_TRUE(agrees(part(figures.levels[1], "zero")->u_s(), "0.198"));
}

TEST(GainError, MovesNothingAtAFractionAndTimesTAtAVoltage) {
    plan::Bench bench;
    bench.sensor.scale.u_gain = 0.01;
    const auto figures = testing_support::figures_of({.fraction = exponential}, {"0.1", "500 V"}, bench);
    EXPECT_EQ(part(figures.levels[0], "sensor gain"), nullptr);
    EXPECT_NEAR(part(figures.levels[1], "sensor gain")->u_s(), 0.01, 1e-4);
}

TEST(Linearity, OfOnePercentIsFourTenthsOfAPercentOfTheTenPercentTime) {
    // u_lin * T: 1 % gives 0.43 % of t(10 %).
    plan::Bench bench;
    bench.sensor.u_linearity = 0.01;
    const auto figures = testing_support::figures_of({.fraction = exponential}, {"0.1"}, bench);
    EXPECT_TRUE(agrees(100 * part(figures.levels[0], "sensor linearity")->u_s() / *figures.levels[0].decay_s,
                       "0.43"));
}

TEST(InitialVoltage, OfTheRawMaximumWouldBeHighAndTheStatedBandwidthMendsIt) {
    // The largest of 200,000 samples of white noise lies 4.6 standard deviations high (order statistics).
    plan::DecayRules rules = rules_for({"0.1"});
    rules.basis = plan::InitialBasis::charging_maximum;
    rules.basis_bandwidth_s = 0.2;
    const RunPlan run{.hold_s = 20, .samples = 250000, .initial_V = 5000, .noise_V = 25};
    const auto figures = figures_of_plan(run, rules);
    EXPECT_NEAR(*figures.initial_voltage_V, 5000, 5);
    EXPECT_GT(*figures.initial_voltage_V, 5000);
}

TEST(InitialVoltage, ByTheNominalBasisIsTheStatedOne) {
    plan::DecayRules rules = rules_for({"0.1"});
    rules.basis = plan::InitialBasis::nominal;
    rules.stated_initial_V = 5000;
    const auto figures = figures_of_plan({.samples = 20000, .initial_V = 4500, .noise_V = 1}, rules);
    EXPECT_EQ(*figures.initial_voltage_V, 5000);
    EXPECT_NEAR(*figures.levels[0].decay_s, std::log(9.0), 4 * *figures.levels[0].u_decay_s + 1e-3);
}

TEST(InitialVoltage, ByTheNominalBasisNeedsTheVoltage) {
    plan::DecayRules rules = rules_for({"0.1"});
    rules.basis = plan::InitialBasis::nominal;
    EXPECT_FALSE(problems_of(rules).empty());
}

TEST(AJumpDuringTheFall, EndsTheRecordThereAndIsFlagged) {
    // A shutter that closes at two time constants: the zero behind it is no decay.
    const auto figures = testing_support::figures_of(
        {.fraction = [](double t) { return t < 2 ? std::exp(-t) : 0.0; }}, {"0.5", "0.1"});
    EXPECT_TRUE(has_flag(figures, plan::FlagCode::interrupted));
    EXPECT_NEAR(*figures.levels[0].decay_s, std::log(2.0), 1e-3);
    EXPECT_EQ(figures.levels[1].status, LevelStatus::not_reached);
    EXPECT_NEAR(*figures.levels[1].at_least_s, 2, 0.01);
}

TEST(ACurveThatComesBack, ReportsTheFirstAndTheLastCrossing) {
    const auto figures = testing_support::figures_of(
        {.fraction = [](double t) { return std::exp(-t) + 0.2 * std::exp(-std::pow((t - 4) / 0.3, 2)); }},
        {"0.1"});
    ASSERT_EQ(figures.levels[0].status, LevelStatus::measured);
    EXPECT_NEAR(*figures.levels[0].decay_s, std::log(10.0), 0.01);
    ASSERT_TRUE(figures.levels[0].last_crossing_s.has_value());
    EXPECT_GT(*figures.levels[0].last_crossing_s, 4);
    EXPECT_TRUE(has_flag(figures, plan::FlagCode::crosses_again));
}

TEST(BounceOfTheRelay, IsFlaggedAndTheTimeCountsFromTheFirstFall) {
    const auto figures = testing_support::figures_of(
        {.fraction = exponential,
         .electrode_fraction = [](double t) { return t > 0.002 && t < 0.004 ? 1.0 : 0.0; }},
        {"0.1"});
    EXPECT_EQ(figures.release_source, ReleaseSource::electrode_fall);
    EXPECT_NEAR(figures.release_s, 2.5, 1e-3);
    EXPECT_TRUE(has_flag(figures, plan::FlagCode::release_bounce));
}

TEST(AMarker, GivesTheReleaseWhereNoElectrodeWasRecorded) {
    const auto store = simulate({.samples = 6000, .initial_V = 5000, .noise_V = 100}, 3);
    trace::SampleStore marker = store;
    for (std::size_t i = 0; i < marker.value.size(); ++i) marker.value[i] = marker.time_s[i] >= 1 ? 5 : 0;
    auto runs = cut(store);
    runs[0].marker = marker.view();
    const auto figures = figures_of(runs[0], rules_for({"0.1"}), {});
    EXPECT_EQ(figures.release_source, ReleaseSource::marker);
    EXPECT_NEAR(figures.release_s, 1, 1.1e-3);
    EXPECT_FALSE(has_flag(figures, plan::FlagCode::release_unseen));
}

TEST(FlatPlateauUnderNoise, IsSuspectedOfClipping) {
    auto store = simulate({.samples = 6000, .initial_V = 10, .noise_V = 0.05}, 5);
    for (double& v : store.value) v = std::min(v, 9.8);
    const auto runs = cut(store);
    const auto figures = figures_of(runs.at(0), rules_for({"0.1"}), {});
    EXPECT_TRUE(has_flag(figures, plan::FlagCode::clipping_suspected));
}

TEST(FullScale, OfTheBenchVoidsTheRun) {
    plan::Bench bench;
    bench.sensor.scale.full_scale_V = 4900;
    const auto figures =
        figures_of_plan({.samples = 6000, .initial_V = 5000, .noise_V = 5}, rules_for({"0.1"}), bench);
    EXPECT_TRUE(has_flag(figures, plan::FlagCode::clipped));
    EXPECT_EQ(plan::facts(plan::FlagCode::clipped).usual, plan::Consequence::void_run);
}

// What must not change a figure.

RC_GTEST_PROP(Figures, DoNotDependOnUnitsStartOrPolarity, ()) {
    const double volts = std::pow(10.0, *rc::gen::inRange(-4, 5)),
                 seconds = std::pow(2.0, *rc::gen::inRange(-12, 12));
    const double shift_s = *rc::gen::inRange(-1000, 1000);
    const bool negative = *rc::gen::arbitrary<bool>();
    const auto store =
        simulate({.samples = 2000, .noise_V = 0.01}, static_cast<std::uint64_t>(*rc::gen::inRange(1, 1000)));
    auto changed = store;
    for (double& v : changed.value) v *= negative ? -volts : volts;
    for (double& t : changed.time_s) t = t * seconds + shift_s * seconds;
    const auto before = cut(store), after = cut(changed);
    RC_ASSERT(before.size() == 1u && after.size() == 1u);
    const auto a = figures_of(before[0], rules_for({"0.1"}), {}).levels[0],
               b = figures_of(after[0], rules_for({"0.1"}), {}).levels[0];
    RC_ASSERT(a.status == b.status);
    if (a.status != LevelStatus::measured) return;
    // A last bit can move the edge of a stretch by a sample: a twentieth of the stated uncertainty, no more.
    RC_ASSERT(std::abs(*b.decay_s / seconds - *a.decay_s) < 0.05 * *a.u_decay_s);
    RC_ASSERT(std::abs(*b.u_decay_s / seconds - *a.u_decay_s) < 0.05 * *a.u_decay_s);
}

RC_GTEST_PROP(Figures, AreFiniteForAnySamples, ()) {
    // Steps, spikes, plateaus, reversals: whatever was cut from them, figures are finite or absent.
    const auto pieces = *rc::gen::container<std::vector<int>>(rc::gen::inRange(-5, 6));
    trace::SampleStore store;
    for (std::size_t p = 0; p < pieces.size(); ++p)
        for (int i = 0; i < 20; ++i) {
            store.time_s.push_back(static_cast<double>(store.time_s.size()) * 0.01);
            store.value.push_back(pieces[p] * (1.0 - 0.02 * i));
        }
    for (const RunTrace& run : cut(store)) {
        const Figures figures = figures_of(run, rules_for({"0.5", "0.1", "0.01", "1 V"}), {});
        for (const double value : {figures.release_s, figures.u_release_s, figures.zero_V, figures.noise_V,
                                   figures.resolution_s, figures.record_s})
            RC_ASSERT(std::isfinite(value));
        for (const LevelFigure& level : figures.levels) {
            RC_ASSERT(level.decay_s.has_value() == (level.status == LevelStatus::measured));
            RC_ASSERT(!level.decay_s || (std::isfinite(*level.decay_s) && std::isfinite(*level.u_decay_s) &&
                                         *level.u_decay_s >= 0));
        }
    }
}

/// A run whose clamps stood at `clamps_V` until the release and were earthed then.
RunTrace beside_clamps(const trace::SampleStore& specimen, trace::SampleStore& clamps, double clamps_V,
                       const RunPlan& plan) {
    clamps.time_s = specimen.time_s;
    for (const double t_s : clamps.time_s)
        clamps.value.push_back(t_s < plan.zero_s || t_s > plan.zero_s + plan.hold_s ? 0 : clamps_V);
    RunTrace run = cut(specimen).at(0);
    run.electrode = clamps.view().between(run.specimen.time_s.front(),
                                          std::nextafter(run.specimen.time_s.back(), HUGE_VAL));
    return run;
}

// A method that states V0 must not hide a specimen that took no charge: the reading is what the sensor saw of
// the clamps, and falls with them.
TEST(StatedInitialVoltage, LeavesTheChecksOfTheChargeToWhatTheSpecimenHeld) {
    RunPlan plan;
    plan.initial_V = 400;
    plan.noise_V = 0.5;
    plan.fall = [](double) { return 0.0; };
    const auto specimen = simulate(plan, 7);
    trace::SampleStore clamps;
    const RunTrace run = beside_clamps(specimen, clamps, 5000, plan);
    plan::Bench bench;
    bench.fixture.induced_fraction_positive = 0.08;
    for (const auto basis : {plan::InitialBasis::nominal, plan::InitialBasis::hold_mean}) {
        plan::DecayRules rules = rules_for({"500 V"});
        rules.basis = basis;
        if (basis == plan::InitialBasis::nominal) rules.stated_initial_V = 5000;
        const Figures figures = figures_of(run, rules, bench);
        EXPECT_NEAR(figures.accepted_fraction.value(), 0.08, 0.001);
        EXPECT_NEAR(figures.electrode_V.value(), 5000, 1);
        EXPECT_NEAR(figures.held_V.value(), 400, 1);
        EXPECT_TRUE(has_flag(figures, plan::FlagCode::induced_not_charged));
    }
}

// What a lagging sensor shows last was there a lag ago: the bound on a decay time is that much shorter.
TEST(NotReached, BoundsNoLaterThanTheSensorSaw) {
    RunPlan plan;
    plan.initial_V = 4000;
    plan.noise_V = 1;
    plan.fall_s = 1;
    const auto specimen = simulate(plan, 8);
    trace::SampleStore clamps;
    const RunTrace run = beside_clamps(specimen, clamps, 4000, plan);
    plan::Bench quick, slow;
    slow.sensor.lag_s = 0.04;
    const auto bound_s = [&](const plan::Bench& bench) {
        const LevelFigure level = figures_of(run, rules_for({"0.1"}), bench).levels.at(0);
        EXPECT_EQ(level.status, LevelStatus::not_reached);
        return level.at_least_s.value_or(0);
    };
    EXPECT_NEAR(bound_s(quick) - bound_s(slow), 0.04, 1e-9);
}

}  // namespace
}  // namespace ebbtide::decay
