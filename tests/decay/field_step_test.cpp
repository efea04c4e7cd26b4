// Runs that a field electrode's step starts: the clock starts at the step, the fall is what follows the peak.

#include "decay/field_step.hpp"

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include <cmath>

#include "support/field_step_run.hpp"
#include "support/simulated_run.hpp"

namespace ebbtide::decay {
namespace {

using testing_support::cut;
using testing_support::FieldStepPlan;

plan::DecayRules half_of_reference() {
    plan::DecayRules rules;
    rules.levels = {*plan::parse_level("50 %")};
    rules.basis = plan::InitialBasis::without_specimen;
    rules.clock = plan::DecayRules::Clock::field_step;
    return rules;
}

Figures figures_of_step(const FieldStepPlan& plan, std::optional<ReferenceLevel> reference,
                        bool with_electrode = true, std::uint64_t seed = 1,
                        const std::optional<plan::Bench>& bench = {}) {
    const auto record = testing_support::simulate(plan, seed);
    auto runs = cut(record.specimen);
    if (runs.size() != 1) throw std::runtime_error("not one run: " + std::to_string(runs.size()));
    if (with_electrode)
        runs[0].electrode = record.electrode.view().between(
            runs[0].specimen.time_s.front(), std::nextafter(runs[0].specimen.time_s.back(), INFINITY));
    return figures_of(runs[0], half_of_reference(), bench, reference);
}

constexpr ReferenceLevel thousand{1000, 1};

TEST(FieldStep, StartsTheClockAndTheLevelIsOfTheRunWithoutSpecimen) {
    // 800 exp(-t) passes half of 1000 V after ln 1.6.
    const Figures figures = figures_of_step({}, thousand);
    EXPECT_EQ(figures.release_source, ReleaseSource::field_step);
    EXPECT_NEAR(figures.release_s, 0.5005, 1e-6);
    ASSERT_EQ(figures.levels[0].status, LevelStatus::measured) << figures.levels[0].reason;
    EXPECT_NEAR(*figures.levels[0].decay_s, std::log(1.6), 1e-4);
    EXPECT_EQ(*figures.initial_voltage_V, 1000);
    EXPECT_NEAR(*figures.electrode_V, 1200, 1e-9);
    EXPECT_FALSE(figures.accepted_fraction.has_value());
}

TEST(FieldStep, IsSeenInTheSpecimensOwnRiseWhereNoElectrodeWasRecorded) {
    const Figures figures = figures_of_step({}, thousand, false);
    EXPECT_EQ(figures.release_source, ReleaseSource::field_step);
    EXPECT_NEAR(*figures.levels[0].decay_s, std::log(1.6), 1e-3);
    EXPECT_NEAR(figures.u_release_s, 1e-3 / std::sqrt(12.0), 1e-9);
}

TEST(FieldStep, OfEitherPolarityGivesTheSameTime) {
    const Figures figures = figures_of_step({.field_V = -1200, .peak_V = -800}, thousand);
    EXPECT_EQ(figures.polarity, plan::Polarity::negative);
    EXPECT_NEAR(*figures.levels[0].decay_s, std::log(1.6), 1e-4);
    EXPECT_NEAR(*figures.electrode_V, -1200, 1e-9);
}

TEST(FieldStep, WhoseSpecimenNeverReachesTheLevelIsAnUpperBoundNotANumber) {
    // A conductive specimen lets through less than half of the field from the first sample on.
    const Figures figures = figures_of_step({.peak_V = 300}, thousand);
    EXPECT_EQ(figures.levels[0].status, LevelStatus::below_resolution);
    EXPECT_FALSE(figures.levels[0].decay_s.has_value());
    EXPECT_LE(*figures.levels[0].at_most_s, 2.5e-3);
}

TEST(FieldStep, TakesWhatRisesForNoFall) {
    // The specimen's voltage takes 20 ms to come up; its peak is 0.905 of 800 V, its way up passes 500 V too.
    const Figures figures = figures_of_step({.rise_s = 0.02}, thousand);
    ASSERT_EQ(figures.levels[0].status, LevelStatus::measured) << figures.levels[0].reason;
    EXPECT_NEAR(*figures.levels[0].decay_s, std::log(1.6), 1e-4);
}

TEST(FieldStep, WithoutARunWithoutSpecimenIsRefusedForThatReason) {
    const Figures figures = figures_of_step({}, {});
    EXPECT_EQ(figures.levels[0].status, LevelStatus::refused);
    EXPECT_NE(figures.levels[0].reason.find("without specimen"), std::string::npos);
}

TEST(FieldStep, BeforeTheRecordStartsIsRefusedForThatReason) {
    const auto record = testing_support::simulate(FieldStepPlan{}, 1);
    const auto after = record.specimen.view().slice(501, record.specimen.view().size());
    const trace::SampleStore late{{after.time_s.begin(), after.time_s.end()},
                                  {after.value.begin(), after.value.end()}};
    const auto runs = cut(late);
    ASSERT_EQ(runs.size(), 1u);
    const Figures figures = figures_of(runs[0], half_of_reference(), {}, thousand);
    EXPECT_EQ(figures.levels[0].status, LevelStatus::refused);
    EXPECT_NE(figures.levels[0].reason.find("step"), std::string::npos) << figures.levels[0].reason;
}

TEST(FieldStep, ReferenceUncertaintyEntersTheBudgetByTheSlope) {
    // p u(V0)/|v'| with v' = -500 V/s: 0.5 * 10/500 s.
    const Figures figures = figures_of_step({}, ReferenceLevel{1000, 10});
    const auto& budget = figures.levels[0].budget;
    const auto part = std::ranges::find(budget, "initial voltage", &Contribution::source);
    ASSERT_NE(part, budget.end());
    EXPECT_NEAR(part->u_s(), 0.01, 1e-4);
}

TEST(FieldStep, SaysNothingOfClampsThatThereAreNot) {
    plan::Bench bench;
    bench.apparatus = plan::Apparatus::induction_electrode;
    const Figures figures = figures_of_step({}, thousand, true, 1, bench);
    for (const plan::Flag& flag : figures.flags) EXPECT_NE(flag.code, plan::FlagCode::induced_unknown);
}

RC_GTEST_PROP(FieldStep, IsTimedWithinItsUncertaintyWhereverItFallsBetweenTwoSamples, ()) {
    FieldStepPlan plan;
    plan.skew = *rc::gen::inRange(1, 100) / 100.0;
    plan.noise_V = *rc::gen::inRange(0, 20);
    const auto seed = static_cast<std::uint64_t>(*rc::gen::inRange(1, 1000));
    const Figures figures = figures_of_step(plan, thousand, true, seed);
    RC_ASSERT(figures.levels[0].status == LevelStatus::measured);
    RC_ASSERT(std::abs(*figures.levels[0].decay_s - std::log(1.6)) < 5 * *figures.levels[0].u_decay_s + 1e-4);
}

}  // namespace
}  // namespace ebbtide::decay
