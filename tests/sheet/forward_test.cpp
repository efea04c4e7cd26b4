// Charge on a sheet through time: what must hold whatever the sheet, and that its two ways of solution agree.
// Figures from outside are in tests/published/sheet_test.cpp.

#include "sheet/forward.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "support/cut_sheets.hpp"

namespace ebbtide::sheet {
namespace {

using std::numbers::pi;

constexpr double infinity = std::numeric_limits<double>::infinity();

/// A sheet with everything at once but a dependence on the field.
Material everything() {
    return {1e11, 0, 2e-9, {{3e-10, 0.01}, {2e-10, 0.3}}};
}
Clamps slow_clamps() {
    return {5000, 1e9, 3e9, 0.4, 0.02, {{0.7, 0.003}, {0.3, 0.05}}};
}
const std::vector<double> through_it{-0.4, -0.3, -0.05, 0, 0.001, 0.01, 0.05, 0.2, 0.5};

TEST(ForwardSheet, IsTheSameByModesAndBySteps) {
    // Two ways that share nothing but strips and conductances. A step adds at most 1e-8 of 5 kV to a
    // potential, and later ones forget it.
    for (const bool hangs : {false, true}) {
        const CutSheet sheet = hangs ? cut(hanging) : cut(backed);
        Material material = everything();
        if (hangs) material.absorption.clear();
        const Course modes = course_of(sheet, material, slow_clamps(), through_it, {.profiles = true});
        const Course steps = course_of(sheet, material, slow_clamps(), through_it,
                                       {.method = Method::stepped, .tolerance = 1e-8, .profiles = true});
        ASSERT_EQ(modes.steps, 0u);
        ASSERT_GT(steps.steps, 0u);
        EXPECT_LT(largest_difference(modes.sensed_V, steps.sensed_V), 5000 * 2e-8);
        EXPECT_LT(largest_difference(modes.clamp_V, steps.clamp_V), 1e-9);
        const double most_C_m = *std::ranges::max_element(modes.charge_C_m);
        EXPECT_LT(largest_difference(modes.charge_C_m, steps.charge_C_m), most_C_m * 1e-7);
        EXPECT_LT(largest_difference(modes.through_clamps_C_m, steps.through_clamps_C_m), most_C_m * 1e-7);
        EXPECT_LT(largest_difference(modes.leaked_C_m, steps.leaked_C_m), most_C_m * 1e-7);
        for (std::size_t i = 0; i < through_it.size(); ++i) {
            EXPECT_LT(largest_difference(modes.potential_V[i], steps.potential_V[i]), 5000 * 1e-7);
            // A hundred thousandth of what 5 kV put on 1e-9 F/m2; where the clamps crowd it, it is more.
            EXPECT_LT(largest_difference(modes.charge_C_m2[i], steps.charge_C_m2[i]), 5000 * 1e-9 * 1e-5);
        }
    }
}

TEST(ForwardSheet, AgreesWithTheModesOfAHangingSheet) {
    // hanging_modes has the even half of the same strips and keeps 12 modes: 0.4 % of the start at its worst,
    // near T1/50, and next to nothing later.
    const Modes modes = hanging_modes(hanging).value_or(Modes{});
    const CutSheet sheet = cut(hanging);
    EXPECT_NEAR(sheet.induced_fraction, modes.induced_fraction, 1e-9);
    const double T1_s = 1e11 * modes.capacitance_F_m2 * std::pow(hanging.gap_m / pi, 2);
    const Course course = course_of(sheet, {1e11}, {1000}, {0, 0.02 * T1_s, 0.2 * T1_s, T1_s, 3 * T1_s});
    const auto law = [&](double t) {
        double sum = 0;
        for (std::size_t k = 0; k < modes.rate.size(); ++k)
            sum += modes.weight[k] * std::exp(-modes.rate[k] * t / T1_s);
        return 1000 * (1 - modes.induced_fraction) * sum;
    };
    EXPECT_NEAR(course.sensed_V[0], law(0), 1e-6);
    EXPECT_NEAR(course.sensed_V[1], law(0.02 * T1_s), 4);
    EXPECT_NEAR(course.sensed_V[2], law(0.2 * T1_s), 0.2);
    EXPECT_NEAR(course.sensed_V[3], law(T1_s), 1e-5);
    EXPECT_NEAR(course.sensed_V[4], law(3 * T1_s), 1e-5);
}

TEST(ForwardSheet, ReadsTheEmptyFixtureAndItsOwnChargeAsOne) {
    // Superposition: what is gone at the release is what the clamps induced, the rest is the sheet's charge.
    for (const Fixture& fixture : {Fixture(hanging), Fixture(backed)}) {
        const CutSheet sheet = cut(fixture);
        const Course course = course_of(sheet, {1e11}, {5000}, {-1, 0});
        EXPECT_NEAR(course.sensed_V[0], 5000, 5000 * 1e-10);
        EXPECT_NEAR(course.sensed_V[1] + 5000 * sheet.induced_fraction, 5000, 5000 * 1e-10);
        // A sheet that took no charge reads what the empty fixture reads, and falls at once.
        const Course insulator = course_of(sheet, {1e22}, {.voltage_V = 5000, .hold_s = 20}, {-1, 0});
        EXPECT_NEAR(insulator.sensed_V[0], 5000 * sheet.induced_fraction, 0.05);
        EXPECT_NEAR(insulator.sensed_V[1], 0, 0.05);
    }
}

TEST(ForwardSheet, ChargesAsTheMirrorOfItsFall) {
    // Linear, from uncharged: up is what down lacks, v(t)/V = r(t) - r(t + hold) after a short hold.
    const CutSheet sheet = cut(hanging);
    const double hold_s = 0.06, t = 0.01;
    const Course whole = course_of(sheet, {1e11}, {1}, {0, t, hold_s, hold_s + t});
    const Course brief = course_of(sheet, {1e11}, {.voltage_V = 1, .hold_s = hold_s}, {-hold_s + t, 0, t});
    EXPECT_NEAR(brief.sensed_V[0], 1 - whole.sensed_V[1], 1e-9);
    EXPECT_NEAR(brief.sensed_V[1], whole.sensed_V[0] - whole.sensed_V[2], 1e-9);
    EXPECT_NEAR(brief.sensed_V[2], whole.sensed_V[1] - whole.sensed_V[3], 1e-9);
}

/// Fixtures, materials and clamps at random, over decades.
double decades(int from_tenths, int to_tenths) {
    return std::pow(10, *rc::gen::inRange(from_tenths, to_tenths) / 10.0);
}

RC_GTEST_PROP(ForwardSheet, LosesNoChargeButThroughClampsAndLeak, ()) {
    const bool hangs = *rc::gen::arbitrary<bool>(), dependent = *rc::gen::arbitrary<bool>();
    const CutSheet sheet =
        hangs ? cut(CrossSection{0.0762, 0.025, 0.0762 * decades(-10, 5), 0.0762 * decades(-10, 5)}, 32)
              : cut(Backing{0.0762, decades(-100, -60)}, 32);
    const double R = decades(70, 140);
    const double T_s = R * 1e-9 * 6e-4;
    Material material{R, dependent ? decades(-50, -25) : 0,
                      *rc::gen::arbitrary<bool>() ? 1e-9 / T_s * decades(-20, 10) : 0};
    if (*rc::gen::arbitrary<bool>()) material.absorption = {{decades(-100, -80), T_s * decades(-20, 20)}};
    const auto contact = [&] { return *rc::gen::arbitrary<bool>() ? R * decades(-40, 60) : 0; };
    const bool brief = *rc::gen::arbitrary<bool>();
    Clamps clamps{*rc::gen::arbitrary<bool>() ? 5000.0 : -5000.0, contact(), contact()};
    if (brief) {
        clamps.hold_s = 3 * T_s * decades(-20, 10);
        clamps.rise_s = *rc::gen::element(0.0, T_s / 100);
    }
    if (*rc::gen::arbitrary<bool>()) clamps.fall = {{0.5, T_s * decades(-40, 10)}, {0.5, 0}};
    std::vector<double> times_s;
    if (brief) times_s = {-*clamps.hold_s, -*clamps.hold_s / 2};
    for (const double t : {0.0, 0.001, 0.1, 1.0, 10.0}) times_s.push_back(t * T_s);
    const Course course = course_of(sheet, material, clamps, times_s, {.tolerance = 1e-4});
    const double at_release = course.charge_C_m[brief ? 2 : 0];
    // What the sheet can hold: all its capacitances, a hanging one's 1e-9 F/m2 or less, at 5 kV.
    double capacitance_F_m2 = hangs ? 1e-9 : sheet.backing_F_m.sum() / 0.0762;
    for (const Absorption& term : material.absorption) capacitance_F_m2 += term.capacitance_F_m2;
    const double full_C_m = 5000 * 0.0762 * capacitance_F_m2;
    for (std::size_t i = 0; i < times_s.size(); ++i) {
        const double lost = at_release - course.charge_C_m[i];
        RC_ASSERT(std::abs(lost - course.through_clamps_C_m[i] - course.leaked_C_m[i]) <=
                  1e-9 * std::max(full_C_m, std::abs(course.through_clamps_C_m[i])));
        RC_ASSERT(std::isfinite(course.sensed_V[i]));
        // Charge flows downhill: no potential is beyond that of the source. (Steps may overshoot a little.)
        RC_ASSERT(std::abs(course.sensed_V[i]) <= 5000 * (1 + 1e-3));
    }
}

TEST(ForwardSheet, ConvergesWithTheSquareOfItsStrips) {
    // The middle of a backed sheet at T1, where only the first mode is left: the ladder's is slow by
    // pi^2/(12 n^2) and begins too high by pi^2/(24 n^2) (expand its sines).
    const double T1_s = slowest_s(backed, 1e11);
    const auto value = [&](std::size_t strips, double t) {
        return course_of(cut(backed, strips), {1e11}, {1}, {t * T1_s}).sensed_V[0] / 0.9;
    };
    const double exact = plane_wall(1);
    const double at_50 = value(50, 1) - exact, at_100 = value(100, 1) - exact, at_200 = value(200, 1) - exact;
    EXPECT_NEAR(at_50 / at_100, 4, 0.02);
    EXPECT_NEAR(at_100 / at_200, 4, 0.01);
    EXPECT_NEAR(at_200 / exact, pi * pi / 8 / (200 * 200), 1e-6);
}

TEST(ForwardSheet, ConvergesOnAHangingSheetToo) {
    // The edges hold a singularity of charge: the strips narrow toward it, and the order is about two.
    const auto value = [&](std::size_t strips) {
        return course_of(cut(hanging, strips), {1e11}, {1}, {0.05}).sensed_V[0];
    };
    const double coarse = value(48) - value(192), fine = value(96) - value(192);
    EXPECT_GT(coarse / fine, 3);
    EXPECT_LT(std::abs(fine), 1e-3);
}

TEST(ForwardSheet, ConvergesInTimeByItsOrder) {
    // Error per step against steps: of a method of order 4 whose estimate is of order 3, a tolerance a
    // hundred times smaller takes 100^(1/4) = 3.2 times the steps, and the error follows the tolerance.
    const double T1_s = slowest_s(backed, 1e11);
    const std::vector<double> times_s{0.02 * T1_s, 0.3 * T1_s, T1_s, 3 * T1_s};
    const CutSheet sheet = cut(backed, 60);
    for (const double field_coefficient : {0.0, 2e-3}) {
        const Material material{1e11, field_coefficient};
        const auto at = [&](double tolerance) {
            return course_of(sheet, material, {5000}, times_s,
                             {.method = Method::stepped, .tolerance = tolerance});
        };
        const Course exact = field_coefficient == 0 ? course_of(sheet, material, {5000}, times_s) : at(1e-11);
        double before = 0;
        std::size_t steps_before = 0;
        for (const double tolerance : {1e-3, 1e-5, 1e-7, 1e-9}) {
            const Course course = at(tolerance);
            const double error = largest_difference(course.sensed_V, exact.sensed_V) / 5000;
            EXPECT_LT(error, 2 * tolerance) << field_coefficient;
            if (before > 0) {
                EXPECT_LT(error, before / 20) << field_coefficient << " " << tolerance;
                EXPECT_LT(static_cast<double>(course.steps), 3.6 * static_cast<double>(steps_before));
            }
            before = error;
            steps_before = course.steps;
        }
    }
}

TEST(ForwardSheet, DependsOnTheFieldAlikeForBothPolarities) {
    const CutSheet sheet = cut(backed);
    const Material material{1e11, 2e-3};
    const std::vector<double> times_s{0, 0.01, 0.05, 0.2};
    const Course plus = course_of(sheet, material, {5000, 1e9, 1e9}, times_s);
    Course minus = course_of(sheet, material, {-5000, 1e9, 1e9}, times_s);
    for (double& v : minus.sensed_V) v = -v;
    EXPECT_LT(largest_difference(plus.sensed_V, minus.sensed_V), 1e-9);
    // What conducts better in a field falls faster, and the more so the higher it starts.
    const Course plain = course_of(sheet, {1e11}, {5000, 1e9, 1e9}, times_s);
    const Course low = course_of(sheet, material, {500, 1e9, 1e9}, times_s);
    EXPECT_LT(plus.sensed_V[3], 0.8 * plain.sensed_V[3]);
    EXPECT_LT(plus.sensed_V[3] / 5000, 0.9 * low.sensed_V[3] / 500);
}

TEST(ForwardSheet, ForgetsAFieldDependenceThatIsNextToNothing) {
    const CutSheet sheet = cut(hanging, 32);
    const std::vector<double> times_s{0, 0.01, 0.05, 0.2};
    const Clamps clamps{5000, 1e9, 2e9, 0.1, 0.001, {{1, 0.002}}};
    EXPECT_LT(
        largest_difference(course_of(sheet, {1e11}, clamps, times_s).sensed_V,
                           course_of(sheet, {1e11, 1e-12}, clamps, times_s, {.tolerance = 1e-9}).sensed_V),
        5000 * 1e-8);
}

RC_GTEST_PROP(ForwardSheet, KnowsNoUnits, ()) {
    // Resistivity only rescales time, voltage only the reading.
    const double R = decades(60, 160), V = decades(0, 40);
    const CutSheet sheet = cut(hanging, 32);
    const Course base = course_of(sheet, {1}, {1, 0.01, 0.02}, {0, 1e-13, 1e-12});
    const Course other = course_of(sheet, {R}, {V, 0.01 * R, 0.02 * R}, {0, 1e-13 * R, 1e-12 * R});
    for (std::size_t i = 0; i < 3; ++i) {
        RC_ASSERT(std::abs(other.sensed_V[i] / V - base.sensed_V[i]) < 1e-11);
        RC_ASSERT(std::abs(other.charge_C_m[i] / V / base.charge_C_m[i] - 1) < 1e-9);
    }
}

/// Four materials, and clamps that differ in all but the hold.
std::vector<Material> four_materials() {
    std::vector<Material> out{{1e11, 2e-3}, {3e11, 1e-3, 1e-9}, {5e10, 0}, {1e11, 4e-3}};
    for (Material& material : out) material.absorption = {{2e-10, 0.01 + out[0].field_coefficient}};
    return out;
}
std::vector<Clamps> four_clamps(std::optional<double> hold_s) {
    std::vector<Clamps> out{{5000}, {-5000, 1e9, 2e9}, {1000, 0, 3e8}, {200}};
    for (Clamps& clamps : out) clamps.hold_s = hold_s;
    out[1].fall = {{1, 0.002}};
    if (hold_s) out[2].rise_s = 0.01;
    return out;
}

TEST(ForwardSheet, FollowsFourAtOnceAsItFollowsEach) {
    // Steps are those of the quickest: closer, never coarser. Each within 1e-7 of its voltage, a step.
    const CutSheet sheet = cut(backed);
    const Options options{.method = Method::stepped, .tolerance = 1e-7, .profiles = true};
    for (const std::optional<double> hold_s : {std::optional<double>(), std::optional<double>(0.2)}) {
        std::vector<double> times_s{-0.1, 0, 1e-4, 0.001, 0.01, 0.05, 0.2, 0.5};
        if (hold_s) times_s.insert(times_s.begin(), {-0.2, -0.15});
        const auto materials = four_materials();
        const auto clamps = four_clamps(hold_s);
        // Seven: four, and three filled up.
        auto all_materials = materials;
        auto all_clamps = clamps;
        for (std::size_t k = 0; k < 3; ++k) {
            all_materials.push_back(materials[k]);
            all_clamps.push_back(clamps[k]);
        }
        const auto together = simulate_all(sheet, all_materials, all_clamps, times_s, options);
        ASSERT_TRUE(together.ok()) << together.error().text();
        ASSERT_EQ(together->size(), 7u);
        for (std::size_t k = 0; k < 7; ++k) {
            const double all_V = std::abs(all_clamps[k].voltage_V);
            const Course alone = course_of(sheet, all_materials[k], all_clamps[k], times_s, options);
            const Course& course = (*together)[k];
            EXPECT_LT(largest_difference(course.sensed_V, alone.sensed_V), all_V * 1e-6) << k;
            EXPECT_LT(largest_difference(course.clamp_V, alone.clamp_V), 1e-9) << k;
            const double full_C_m = all_V * 0.0762 * 1.2e-9;
            EXPECT_LT(largest_difference(course.charge_C_m, alone.charge_C_m), full_C_m * 1e-6) << k;
            EXPECT_LT(largest_difference(course.through_clamps_C_m, alone.through_clamps_C_m),
                      full_C_m * 2e-6)
                << k;
            EXPECT_LT(largest_difference(course.leaked_C_m, alone.leaked_C_m), full_C_m * 1e-6) << k;
            for (std::size_t i = 0; i < times_s.size(); ++i)
                EXPECT_LT(largest_difference(course.potential_V[i], alone.potential_V[i]), all_V * 1e-6) << k;
            EXPECT_GE(course.steps, alone.steps / 2) << k;
        }
        EXPECT_EQ((*together)[0].steps, (*together)[3].steps);
    }
}

TEST(ForwardSheet, BetweenClampsAlikeDoesOnBothSidesWhatItsLeftHalfDoes) {
    // Contacts that differ by 1e-13 are followed over the whole sheet, alike ones over half of it. 10 strips
    // have an odd half.
    const Clamps alike{5000, 1e9, 1e9, 0.4, 0.02, {{0.7, 0.003}, {0.3, 0.05}}};
    Clamps apart = alike;
    apart.right_contact_ohm_m *= 1 + 1e-13;
    Material bending = everything();
    bending.field_coefficient = 1e-3;
    for (const bool hangs : {false, true})
        for (const std::size_t strips : {std::size_t{0}, std::size_t{10}}) {
            const CutSheet sheet = hangs ? cut(hanging, strips) : cut(backed, strips);
            ASSERT_TRUE(left_half(sheet));
            const Options options{.profiles = true};
            const Course half = course_of(sheet, bending, alike, through_it, options),
                         whole = course_of(sheet, bending, apart, through_it, options);
            EXPECT_EQ(half.steps, whole.steps);
            EXPECT_LT(largest_difference(half.sensed_V, whole.sensed_V), 5000 * 1e-10);
            const double most_C_m = *std::ranges::max_element(whole.charge_C_m);
            EXPECT_LT(largest_difference(half.charge_C_m, whole.charge_C_m), most_C_m * 1e-10);
            EXPECT_LT(largest_difference(half.through_clamps_C_m, whole.through_clamps_C_m),
                      most_C_m * 1e-10);
            EXPECT_LT(largest_difference(half.leaked_C_m, whole.leaked_C_m), most_C_m * 1e-10);
            for (std::size_t i = 0; i < through_it.size(); ++i) {
                EXPECT_LT(largest_difference(half.potential_V[i], whole.potential_V[i]), 5000 * 1e-9);
                EXPECT_LT(largest_difference(half.charge_C_m2[i], whole.charge_C_m2[i]), 5000 * 1e-9 * 1e-7);
            }
        }
    CutSheet uneven = cut(backed);
    uneven.reading_V_per_C_m(3) += 1e-6 * uneven.reading_V_per_C_m.maxCoeff();
    EXPECT_FALSE(left_half(uneven)) << "a sensor that looks aside";
}

TEST(ForwardSheet, FollowsOneAfterAnotherWhatCannotGoTogether) {
    const std::vector<double> times_s{0, 0.01, 0.1};
    const Material linear{1e11}, dependent{1e11, 2e-3};
    const Clamps held{5000}, brief{.voltage_V = 5000, .hold_s = 0.1};
    for (const bool hangs : {false, true}) {
        const CutSheet sheet = hangs ? cut(hanging, 16) : cut(backed, 16);
        const std::vector<Material> materials{linear, dependent, dependent};
        const std::vector<Clamps> clamps{held, held, brief};
        const auto all = simulate_all(sheet, materials, clamps, times_s);
        ASSERT_TRUE(all.ok());
        for (std::size_t k = 0; k < 3; ++k)
            EXPECT_EQ((*all)[k].sensed_V, course_of(sheet, materials[k], clamps[k], times_s).sensed_V) << k;
    }
    EXPECT_TRUE(simulate_all(cut(backed, 16), {}, {}, times_s).ok());
    const std::vector<Material> one{linear}, bad{{1e11, 2e-3}, {0, 2e-3}};
    const std::vector<Clamps> two{held, held};
    EXPECT_FALSE(simulate_all(cut(backed, 16), one, two, times_s).ok());
    EXPECT_FALSE(simulate_all(cut(backed, 16), bad, two, times_s).ok());
}

TEST(ForwardSheet, RefusesWhatIsNoSheet) {
    for (const double bad : {0.0, -1.0, std::nan(""), infinity}) {
        EXPECT_FALSE(cut_sheet(Backing{bad, 1e-9}).ok()) << bad;
        EXPECT_FALSE(cut_sheet(Backing{1, bad}).ok()) << bad;
        EXPECT_FALSE(cut_sheet(CrossSection{1, bad, 1, 1}).ok()) << bad;
    }
    EXPECT_FALSE(cut_sheet(CrossSection{1, 0.3, 0.005, 1}).ok()) << "that is a backed sheet";
    EXPECT_FALSE(cut_sheet(Backing{1, 1e-9, 1.1}).ok()) << "the sensor sees more than the sheet";
    EXPECT_FALSE(cut_sheet(Backing{1, 1e-9, 0, 1}).ok()) << "the sensor sees nothing of the sheet";
    for (const std::size_t strips : {1, 7, 9, 2002}) EXPECT_FALSE(cut_sheet(backed, strips).ok()) << strips;
    EXPECT_FALSE(cut_sheet(hanging, 602).ok());
}

TEST(ForwardSheet, SaysWhatItWasGivenWrong) {
    const CutSheet sheet = cut(backed, 16);
    const auto refused = [&](const Material& material, const Clamps& clamps, std::vector<double> times_s,
                             const Options& options = {}) {
        const auto course = simulate(sheet, material, clamps, times_s, options);
        return !course.ok() && course.error().code == Fault::bad_input && !course.error().what.empty();
    };
    const Material good{1e11};
    const Clamps earthed{5000};
    EXPECT_FALSE(refused(good, earthed, {0, 1}));
    for (const double bad : {-1.0, std::nan(""), infinity}) {
        EXPECT_TRUE(refused({bad}, earthed, {0}));
        EXPECT_TRUE(refused({1e11, bad}, earthed, {0}));
        EXPECT_TRUE(refused({1e11, 0, bad}, earthed, {0}));
        EXPECT_TRUE(refused({1e11, 0, 0, {{bad, 1}}}, earthed, {0}));
        EXPECT_TRUE(refused({1e11, 0, 0, {{1e-9, bad}}}, earthed, {0}));
        EXPECT_TRUE(refused(good, {5000, bad}, {0}));
        EXPECT_TRUE(refused(good, {5000, 0, bad}, {0}));
        EXPECT_TRUE(refused(good, {5000, 0, 0, bad}, {0}));
        EXPECT_TRUE(refused(good, {5000, 0, 0, 1, bad}, {0}));
        EXPECT_TRUE(refused(good, earthed, {0}, {.tolerance = bad}));
    }
    EXPECT_TRUE(refused(good, {0}, {0})) << "no voltage";
    EXPECT_TRUE(refused(good, {5000, 0, 0, 1, 0, {{0.5, 1}}}, {0})) << "half a fall";
    EXPECT_TRUE(refused(good, {5000, 0, 0, 1, 0, {}}, {0})) << "no fall";
    EXPECT_TRUE(refused(good, {5000, 0, 0, 1}, {-2})) << "before the charging";
    EXPECT_TRUE(refused(good, earthed, {1, 0})) << "backward in time";
    EXPECT_TRUE(refused({1e11, 1}, earthed, {0})) << "a metal at the clamps";
}

TEST(ForwardSheet, KeepsAClampThatIsNotEarthed) {
    // Through a forgotten resistor for ever: nothing changes.
    const Course course =
        course_of(cut(hanging, 32), {1e11}, {.voltage_V = 5000, .fall = {{1, infinity}}}, {0, 1, 100});
    for (const double v : course.sensed_V) EXPECT_NEAR(v, 5000, 1e-5);
}

TEST(ForwardSheet, SaggedByItsLeakIsHeldWhereItsLawPutsIt) {
    // Steady between clamps: V = cosh(x sqrt(g R_s)) / cosh(L/2 sqrt(g R_s)), the fin of any heat-transfer
    // handbook; 200 strips leave (L/n)^2 g R_s / 24.
    const double g = 1e-8, R = 1e11, u = std::sqrt(g * R);
    const Course course = course_of(cut(backed), {R, 0, g}, {1}, {-1});
    EXPECT_NEAR((course.sensed_V[0] - 0.1) / 0.9, 1 / std::cosh(u * backed.gap_m / 2), 1e-5);
    // And field dependence, steep enough to matter, still finds where it rests: the sag is less.
    const Course dependent = course_of(cut(backed), {R, 1e-2, g}, {1000}, {-1, 0});
    EXPECT_GT(dependent.sensed_V[0] / 1000, course.sensed_V[0] + 0.01);
}

}  // namespace
}  // namespace ebbtide::sheet
