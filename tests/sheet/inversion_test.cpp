#include "sheet/inversion.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <cmath>
#include <random>

#include "sheet/forward.hpp"

namespace ebbtide::sheet {
namespace {

constexpr CrossSection hanging{0.0762, 0.025, 0.025, 0.05};
constexpr Backing backed{0.0762, 1e-9, 0, 0.1};
constexpr double clamp_V = 5000;

const TimedSheet& timed(bool hangs) {
    static const TimedSheet both[2]{TimedSheet::of(backed).value(), TimedSheet::of(hanging).value()};
    return both[hangs ? 1 : 0];
}

FallModel model(bool hangs, Second second = Second::nothing) {
    return fall_model(timed(hangs), second).value();
}

/// A run as the inversion sees it; owns its samples.
struct MadeRun {
    fit::CurveStore curve;
    SeenFall fall;
};

struct MadePlan {
    bool hangs = true;
    double resistivity_ohm_sq = 2e11;
    double contact_ratio = 0;
    double field_exponent = 0;
    double lag_s = 0, fall_s = 0;
    std::optional<double> hold_s = {};
    double record_T = 6;  ///< length of the record in T
    std::size_t samples = 600;
    double noise = 0.002;  ///< of the clamps' voltage
};

MadeRun made(const MadePlan& plan, std::uint64_t seed) {
    const TimedSheet& sheet = timed(plan.hangs);
    const double T = plan.resistivity_ohm_sq * sheet.time_per_ohm_s();
    MadeRun out;
    const double from = 8 * plan.fall_s, length = plan.record_T * T;
    for (std::size_t i = 0; i < plan.samples; ++i)
        out.curve.x.push_back(from +
                              length * (static_cast<double>(i) + 0.5) / static_cast<double>(plan.samples));
    Material material{plan.resistivity_ohm_sq};
    material.field_coefficient = plan.field_exponent / std::sqrt(clamp_V / sheet.gap_m());
    Clamps clamps;
    clamps.voltage_V = clamp_V;
    clamps.left_contact_ohm_m = clamps.right_contact_ohm_m =
        plan.contact_ratio * plan.resistivity_ohm_sq * sheet.gap_m();
    clamps.hold_s = plan.hold_s;
    if (plan.fall_s > 0) clamps.fall = {{1, plan.fall_s}};
    const auto course = simulate(sheet.sheet(), material, clamps, out.curve.x);
    EXPECT_TRUE(course.ok());
    std::vector<double> reading = course->sensed_V;
    // Only sheets that are linear and perfectly clamped are looked at through a sensor here.
    const Between between{plan.lag_s, plan.fall_s, plan.hold_s};
    if (plan.lag_s > 0)
        reading = fit::values_of(linear_fall(sheet.modes(), between), std::vector<double>{clamp_V},
                                 std::vector<double>{T}, out.curve.x);
    std::mt19937_64 random(seed);
    std::normal_distribution<double> normal;
    for (const double V : reading) out.curve.y.push_back(V + plan.noise * clamp_V * normal(random));
    out.fall.curve = out.curve.view();
    out.fall.between = between;
    out.fall.clamp_V = clamp_V;
    out.fall.held_V = clamp_V;
    if (plan.hold_s) {
        const auto end = simulate(sheet.sheet(), material, clamps, std::vector<double>{-1e-6 * *plan.hold_s});
        out.fall.held_V = end->sensed_V.front();
    }
    return out;
}

double T_of(const MadePlan& plan) {
    return plan.resistivity_ohm_sq * timed(plan.hangs).time_per_ohm_s();
}

void expect_within(const Estimate& estimate, double truth, double relative) {
    ASSERT_EQ(estimate.identified, Identified::free);
    EXPECT_NEAR(*estimate.value / truth, 1, relative);
    EXPECT_LT(*estimate.low, *estimate.value);
    EXPECT_GT(*estimate.high, *estimate.value);
}

TEST(Inversion, FindsTheTimeOfAHangingAndOfABackedSheet) {
    for (const bool hangs : {true, false}) {
        const MadePlan plan{.hangs = hangs};
        const MadeRun run = made(plan, 1);
        const Inversion found = invert(model(hangs), run.fall);
        ASSERT_EQ(found.state, InversionState::determined) << found.reason;
        // Noise of 0.2 % on 600 samples: some 0.03 % of T.
        expect_within(found.time_constant_s, T_of(plan), 2e-3);
        EXPECT_NEAR(found.amplitude_V, clamp_V, 0.002 * clamp_V);
    }
}

TEST(Inversion, AllowsForLagClampsFallAndAShortHold) {
    MadePlan plan;
    const double T = T_of(plan);
    plan.lag_s = 0.15 * T;
    plan.fall_s = 0.03 * T;
    plan.hold_s = 0.8 * T;
    const MadeRun run = made(plan, 2);
    const Inversion found = invert(model(true), run.fall);
    ASSERT_EQ(found.state, InversionState::determined) << found.reason;
    expect_within(found.time_constant_s, T, 0.01);
    // What ignores them is wrong.
    SeenFall blind = run.fall;
    blind.between = {};
    const Inversion other = invert(model(true), blind);
    EXPECT_GT(std::abs(std::log(*other.time_constant_s.value / T)), 0.02);
}

RC_GTEST_PROP(Inversion, FindsAnySheetAgainThatWasSimulated, ()) {
    MadePlan plan;
    plan.hangs = *rc::gen::arbitrary<bool>();
    plan.resistivity_ohm_sq = std::pow(10.0, *rc::gen::inRange(80, 150) / 10.0);
    plan.record_T = *rc::gen::inRange(2, 9);
    plan.noise = 0;
    const MadeRun run = made(plan, 0);
    const Inversion found = invert(model(plan.hangs), run.fall);
    RC_ASSERT(found.state == InversionState::determined);
    RC_ASSERT(std::abs(*found.time_constant_s.value / T_of(plan) - 1) < 1e-5);
}

RC_GTEST_PROP(Inversion, DoesNotCareForUnits, ()) {
    const MadeRun run = made({.samples = 200}, static_cast<std::uint64_t>(*rc::gen::inRange(0, 100)));
    const double volts = std::pow(10.0, *rc::gen::inRange(-3, 4)),
                 seconds = std::pow(10.0, *rc::gen::inRange(-3, 4));
    MadeRun other = run;
    for (double& x : other.curve.x) x *= seconds;
    for (double& y : other.curve.y) y *= volts;
    other.fall.curve = other.curve.view();
    other.fall.held_V *= volts;
    *other.fall.clamp_V *= volts;
    const Inversion a = invert(model(true), run.fall), b = invert(model(true), other.fall);
    RC_ASSERT(a.state == InversionState::determined && b.state == InversionState::determined);
    RC_ASSERT(std::abs(*b.time_constant_s.value / (seconds * *a.time_constant_s.value) - 1) < 1e-7);
    RC_ASSERT(std::abs(*b.time_constant_s.high / (seconds * *a.time_constant_s.high) - 1) < 1e-3);
}

TEST(Inversion, FindsTheResistanceOfContacts) {
    MadePlan plan{.hangs = false, .contact_ratio = 0.3, .samples = 2000, .noise = 0.001};
    plan.record_T = 10;
    const MadeRun run = made(plan, 3);
    const Inversion found = invert(model(false, Second::contact), run.fall);
    ASSERT_EQ(found.state, InversionState::determined) << found.reason;
    EXPECT_LT(*found.time_constant_s.low, T_of(plan));
    EXPECT_GT(*found.time_constant_s.high, T_of(plan));
    ASSERT_EQ(found.second.identified, Identified::free);
    EXPECT_LT(*found.second.low, 0.3);
    EXPECT_GT(*found.second.high, 0.3);
    // Seen as a sheet with perfect contacts it is too slow by far: the resistance is counted to the sheet.
    EXPECT_GT(*invert(model(false), run.fall).time_constant_s.value, 1.5 * T_of(plan));
}

TEST(Inversion, OfPerfectContactsBoundsTheirResistanceFromAboveOnly) {
    const MadeRun run = made({.hangs = false, .samples = 1000}, 4);
    const Inversion found = invert(model(false, Second::contact), run.fall);
    ASSERT_EQ(found.state, InversionState::determined) << found.reason;
    EXPECT_EQ(found.second.identified, Identified::bounded_above);
    EXPECT_FALSE(found.second.value.has_value()) << "where the search ended is no value";
    EXPECT_LT(*found.second.high, 0.1);
    EXPECT_LT(*found.time_constant_s.low, T_of({.hangs = false}));
    EXPECT_GT(*found.time_constant_s.high, 0.999 * T_of({.hangs = false}));
}

TEST(Inversion, FindsHowTheResistivityDependsOnTheField) {
    const MadePlan plan{.hangs = false, .field_exponent = 0.6, .samples = 1000};
    const MadeRun run = made(plan, 5);
    const Inversion found = invert(model(false, Second::field), run.fall);
    ASSERT_EQ(found.state, InversionState::determined) << found.reason;
    ASSERT_EQ(found.second.identified, Identified::free);
    EXPECT_LT(*found.second.low, 0.6);
    EXPECT_GT(*found.second.high, 0.6);
    EXPECT_LT(*found.time_constant_s.low, T_of(plan));
    EXPECT_GT(*found.time_constant_s.high, T_of(plan));
    // A short hold is another history than the model knows.
    MadeRun brief = run;
    brief.fall.between.hold_s = T_of(plan);
    EXPECT_EQ(invert(model(false, Second::field), brief.fall).state, InversionState::refused);
}

TEST(Inversion, GivesAnUpperBoundOnlyWhereTheBenchIsTooSlow) {
    for (const double lag_T : {0.4, 1.0, 5.0}) {
        MadePlan plan;
        plan.lag_s = lag_T * T_of(plan);
        plan.record_T = 40;
        const MadeRun run = made(plan, 6);
        const Inversion found = invert(model(true), run.fall);
        ASSERT_EQ(found.state, InversionState::at_most) << lag_T << " " << found.reason;
        EXPECT_FALSE(found.time_constant_s.value.has_value());
        EXPECT_FALSE(found.time_constant_s.low.has_value());
        EXPECT_GE(*found.time_constant_s.high, T_of(plan));
    }
}

TEST(Inversion, GivesAnUpperBoundWhereTheFallWasOverBeforeItsFirstSample) {
    MadeRun run = made({}, 7);
    for (double& x : run.curve.x) x += 0.2;
    std::mt19937_64 random(8);
    std::normal_distribution<double> normal;
    for (double& y : run.curve.y) y = 10 * normal(random);
    run.fall.curve = run.curve.view();
    const Inversion found = invert(model(true), run.fall);
    ASSERT_EQ(found.state, InversionState::at_most);
    EXPECT_GT(*found.time_constant_s.high, 0.01);
    EXPECT_LT(*found.time_constant_s.high, 0.1);
}

TEST(Inversion, GivesALowerBoundOnlyOfARecordThatHardlyFell) {
    for (const double record_T : {0.001, 0.02, 0.1}) {
        const MadePlan plan{.hangs = false, .record_T = record_T};
        const MadeRun run = made(plan, 9);
        const Inversion found = invert(model(false), run.fall);
        ASSERT_EQ(found.state, InversionState::at_least) << record_T << " " << found.reason;
        EXPECT_FALSE(found.time_constant_s.value.has_value());
        EXPECT_FALSE(found.time_constant_s.high.has_value());
        EXPECT_LE(*found.time_constant_s.low, T_of(plan));
        EXPECT_GT(*found.time_constant_s.low, 0);
    }
}

TEST(Inversion, NeverCallsAnInsulatorThatTookNoChargeAConductor) {
    // What it shows is the induced fraction, which goes with the clamps and the sensor's lag: a perfect fall.
    for (std::uint64_t seed = 0; seed < 200; ++seed) {
        std::mt19937_64 random(seed);
        std::normal_distribution<double> normal;
        const double induced = timed(true).modes().induced_fraction, lag_s = 0.02;
        MadeRun run;
        for (int i = 0; i < 500; ++i) {
            run.curve.x.push_back(1e-3 * (i + 1));
            run.curve.y.push_back(induced * clamp_V * std::exp(-run.curve.x.back() / lag_s) +
                                  5 * normal(random));
        }
        run.fall.curve = run.curve.view();
        run.fall.between = {seed % 2 == 0 ? lag_s : 0, 0, {}};
        run.fall.held_V = induced * clamp_V + normal(random);
        run.fall.clamp_V = clamp_V;
        const Inversion found = invert(model(true), run.fall);
        EXPECT_EQ(found.state, InversionState::took_no_charge);
        EXPECT_EQ(found.time_constant_s.identified, Identified::not_asked);
        // Nor where nobody recorded the clamps: held_V is then all there is. A sensor whose lag is not stated
        // makes it a slow fall.
        run.fall.clamp_V.reset();
        if (seed % 2 == 0) {
            const Inversion unseen = invert(model(true), run.fall);
            EXPECT_TRUE(unseen.state == InversionState::charge_unproven ||
                        unseen.state == InversionState::refused)
                << unseen.reason;
            EXPECT_EQ(unseen.time_constant_s.identified, Identified::not_asked);
        }
    }
}

TEST(Inversion, SaysWhatReleaseLagAndZeroLeaveOpen) {
    MadeRun run = made({}, 10);
    const Inversion bare = invert(model(true), run.fall);
    run.fall.u_release_s = 0.002;
    run.fall.u_lag_s = 0.001;
    run.fall.u_zero_V = 20;
    const Inversion whole = invert(model(true), run.fall);
    ASSERT_EQ(whole.state, InversionState::determined);
    EXPECT_EQ(*whole.time_constant_s.value, *bare.time_constant_s.value);
    EXPECT_GT(whole.u_zero, 0);
    EXPECT_NEAR(whole.u_release / whole.u_lag, 2, 1e-9);
    const double u = std::sqrt(std::pow(whole.u_noise, 2) + std::pow(whole.u_release, 2) +
                               std::pow(whole.u_lag, 2) + std::pow(whole.u_zero, 2));
    EXPECT_NEAR(std::log(*whole.time_constant_s.high / *whole.time_constant_s.low) / (2 * 1.96), u, 1e-3 * u);
}

TEST(Inversion, RefusesWhatIsNoFall) {
    const MadeRun run = made({}, 11);
    const auto refused = [&](auto change) {
        SeenFall fall = run.fall;
        change(fall);
        const Inversion found = invert(model(true), fall);
        EXPECT_EQ(found.state, InversionState::refused);
        EXPECT_FALSE(found.reason.empty());
    };
    refused([](SeenFall& f) { f.curve = {}; });
    refused([](SeenFall& f) { f.held_V = 0; });
    refused([](SeenFall& f) { f.held_V = std::nan(""); });
    refused([](SeenFall& f) { f.between.lag_s = -1; });
    refused([](SeenFall& f) { f.between.hold_s = 0; });
    refused([](SeenFall& f) { f.clamp_V = 0; });
    std::vector<double> bad(run.curve.y);
    bad[100] = std::nan("");
    refused([&](SeenFall& f) { f.curve.y = bad; });
    EXPECT_EQ(Inversion{}.state, InversionState::not_run);
}

}  // namespace
}  // namespace ebbtide::sheet
