// What a method asks of a run, and the run does not show.

#include "judge/run_flags.hpp"

#include <gtest/gtest.h>

#include <algorithm>

#include "judge/invented_runs.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::judge;
using namespace ebbtide::judge::testing_support;
using plan::FlagCode;

plan::Method method() {
    plan::Method asked;
    asked.conditioning.relative_humidity_percent = plan::Tolerance{12, 3};
    asked.conditioning.temperature_C = plan::Tolerance{23, 2.8};
    asked.conditioning.at_least_h = 24;
    asked.charging.voltage_V = plan::Tolerance{5000, 100};
    asked.charging.hold_s = 20;
    asked.charging.minimum_initial_V = 4000;
    asked.charging.minimum_accepted_fraction = 0.8;
    asked.decay.residual_limit_V = 50;
    asked.decay.zero_limit_V = 50;
    return asked;
}

plan::Bench bench() {
    plan::Bench used;
    used.calibrations = {{"sensor", "c-1", {2026, 1, 1}, {2026, 9, 18}}};
    return used;
}

std::vector<FlagCode> codes(const JudgedRun& run, const plan::Order& request = order(),
                            const plan::Method& asked = method(),
                            const std::optional<plan::Bench>& used = bench()) {
    std::vector<FlagCode> out;
    for (const plan::Flag& flag : method_flags(*run.figures, run.key, request, asked, used))
        out.push_back(flag.code);
    return out;
}

using Codes = std::vector<FlagCode>;

TEST(GoodRun, RaisesNothing) {
    EXPECT_EQ(codes(measured(key("W1"), 0.1)), Codes{});
    EXPECT_EQ(codes(measured(key("W1", 1, plan::Polarity::negative), 0.1)), Codes{});
}

// A specimen that took no charge reads the induced fraction: it must show although less was recorded.
TEST(Charge, IsAskedOfTheMethodsVoltageWhereNoElectrodeWasRecorded) {
    JudgedRun run = measured(key("W1"), 0.1);
    run.figures->electrode_V.reset();
    run.figures->accepted_fraction.reset();
    run.figures->held_V = 4900;
    EXPECT_EQ(codes(run), Codes{FlagCode::electrode_unseen});
    plan::Method asked = method();
    asked.charging.minimum_initial_V.reset();
    plan::Bench used = bench();
    used.fixture.induced_fraction_positive = 0.11;
    run.figures->held_V = 550;
    EXPECT_EQ(
        codes(run, order(), asked, used),
        (Codes{FlagCode::electrode_unseen, FlagCode::induced_not_charged, FlagCode::charge_not_accepted}));
}

// What a specimen accepted is asked of the specimen, not of a V0 that the method states.
TEST(Charge, IsAskedOfWhatTheSpecimenHeldWhateverStandsForV0) {
    JudgedRun run = measured(key("W1"), 0.1);
    run.figures->initial_voltage_V = 5000;
    run.figures->held_V = 3999;
    EXPECT_EQ(codes(run), Codes{FlagCode::charge_not_accepted});
}

// MIL-DTL-44031E 4.5.4.4.4: a maximum below 4000 V is recorded as non-passing, with the reason.
TEST(Charge, BelowFourThousandVoltsIsNotAccepted) {
    JudgedRun run = measured(key("W1"), 0.1);
    run.figures->initial_voltage_V = 3999.9;
    EXPECT_EQ(codes(run), Codes{FlagCode::charge_not_accepted});
    run.figures->initial_voltage_V = 4000;
    EXPECT_EQ(codes(run), Codes{});
    EXPECT_EQ(plan::facts(FlagCode::charge_not_accepted).usual, plan::Consequence::fail_specimen);
}

TEST(Charge, IsNotAcceptedBelowAFractionOfTheElectrode) {
    JudgedRun run = measured(key("W1"), 0.1);
    run.figures->accepted_fraction = 0.79;
    EXPECT_EQ(codes(run), Codes{FlagCode::charge_not_accepted});
    run.figures->accepted_fraction.reset();
    EXPECT_EQ(codes(run), Codes{}) << "no electrode recorded: nothing to compare with";
}

TEST(Charge, VoltageIsAskedOfTheMagnitude) {
    JudgedRun run = measured(key("W1", 1, plan::Polarity::negative), 0.1);
    run.figures->electrode_V = -5100;
    EXPECT_EQ(codes(run), Codes{}) << "the tolerance's own edge is inside";
    run.figures->electrode_V = -5101;
    EXPECT_EQ(codes(run), Codes{FlagCode::charging_voltage_off});
    run.figures->electrode_V = -4899;
    EXPECT_EQ(codes(run), Codes{FlagCode::charging_voltage_off});
}

TEST(Hold, MayDifferByATenth) {
    JudgedRun run = measured(key("W1"), 0.1);
    run.figures->charging_s = 22;
    EXPECT_EQ(codes(run), Codes{});
    run.figures->charging_s = 22.1;
    EXPECT_EQ(codes(run), Codes{FlagCode::hold_differs});
    run.figures->charging_s = 17.9;
    EXPECT_EQ(codes(run), Codes{FlagCode::hold_differs});
}

TEST(Residual, CountsOfEitherSign) {
    JudgedRun run = measured(key("W1"), 0.1);
    for (const double residual_V : {-50.0, 50.0}) {
        run.figures->residual_V = residual_V;
        EXPECT_EQ(codes(run), Codes{});
    }
    for (const double residual_V : {-50.1, 50.1}) {
        run.figures->residual_V = residual_V;
        EXPECT_EQ(codes(run), Codes{FlagCode::residual_high});
    }
}

TEST(Zero, OutsideItsLimitIsFlagged) {
    JudgedRun run = measured(key("W1"), 0.1);
    run.figures->zero_V = -51;
    EXPECT_EQ(codes(run), Codes{FlagCode::zero_outside_limit});
}

TEST(Polarity, MustBeThePlannedOne) {
    JudgedRun run = measured(key("W1"), 0.1);
    run.figures->polarity = plan::Polarity::negative;
    EXPECT_EQ(codes(run), Codes{FlagCode::polarity_differs});
}

TEST(Conditions, OutsideToleranceAreFlaggedEach) {
    plan::Order request = order();
    request.conditions[0].relative_humidity_percent = 15;
    request.conditions[0].temperature_C = 25.8;
    EXPECT_EQ(codes(measured(key("W1"), 0.1), request), Codes{}) << "23 + 2.8 is inside, binary or not";
    request.conditions[0].relative_humidity_percent = 15.1;
    request.conditions[0].temperature_C = 20.1;
    EXPECT_EQ(codes(measured(key("W1"), 0.1), request),
              (Codes{FlagCode::conditions_outside, FlagCode::conditions_outside}));
}

TEST(Conditions, NotRecordedAreNotTakenForGood) {
    plan::Order request = order();
    request.conditions[0].relative_humidity_percent.reset();
    request.conditions[0].conditioned_to.reset();
    EXPECT_EQ(codes(measured(key("W1"), 0.1), request),
              (Codes{FlagCode::conditions_unknown, FlagCode::conditions_unknown}));
    request.conditions.clear();
    EXPECT_EQ(codes(measured(key("W1"), 0.1), request), Codes{FlagCode::conditions_unknown});
    // A method that asks for none gets none.
    plan::Method free = method();
    free.conditioning = {};
    EXPECT_EQ(codes(measured(key("W1"), 0.1), request, free), Codes{});
}

TEST(Conditioning, IsTimedToTheHour) {
    plan::Order request = order();
    request.conditions[0].conditioned_to = parse_instant("2026-09-15T07:59:59Z").value();
    EXPECT_EQ(codes(measured(key("W1"), 0.1), request), Codes{FlagCode::conditioning_short});
    plan::Method asked = method();
    asked.conditioning.at_most_h = 48;
    request.conditions[0].conditioned_to = parse_instant("2026-09-16T08:00:00Z").value();
    EXPECT_EQ(codes(measured(key("W1"), 0.1), request, asked), Codes{});
    request.conditions[0].conditioned_to = parse_instant("2026-09-16T08:00:01Z").value();
    EXPECT_EQ(codes(measured(key("W1"), 0.1), request, asked), Codes{FlagCode::conditions_outside});
}

TEST(Conditioning, MayHaveAnUpperLimitAlone) {
    plan::Method asked = method();
    asked.conditioning = {};
    asked.conditioning.at_most_h = 12;
    EXPECT_EQ(codes(measured(key("W1"), 0.1), order(), asked), Codes{FlagCode::conditions_outside});
}

TEST(Calibration, MustBeInDateOnTheLastDayOfTesting) {
    EXPECT_EQ(codes(measured(key("W1"), 0.1)), Codes{}) << "due on the last day is in date";
    plan::Bench used = bench();
    used.calibrations.push_back({"divider", "c-2", {2025, 1, 1}, {2026, 9, 17}});
    EXPECT_EQ(codes(measured(key("W1"), 0.1), order(), method(), used), Codes{FlagCode::calibration_expired});
}

}  // namespace
