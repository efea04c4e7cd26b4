// Sheets that are not the same everywhere.

#include "sheet/map.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include "support/cut_sheets.hpp"

namespace ebbtide::sheet {
namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();

/// As the backed sheet of the other tests, all of one resistivity.
SheetMap even_map(Eigen::Index along, Eigen::Index across, double surface_resistivity_ohm_sq = 1e11) {
    SheetMap out;
    out.gap_m = backed.gap_m;
    out.width_m = 0.05;
    out.surface_resistivity_ohm_sq = Eigen::ArrayXXd::Constant(along, across, surface_resistivity_ohm_sq);
    out.capacitance_F_m2 = backed.capacitance_F_m2;
    out.induced_fraction = backed.induced_fraction;
    return out;
}

Course course_of(const SheetMap& map, const Clamps& clamps, const std::vector<double>& times_s,
                 const Options& options = {}) {
    const auto course = simulate(map, clamps, times_s, options);
    EXPECT_TRUE(course.ok()) << (course ? "" : course.error().text());
    return course.ok() ? course.value() : Course{};
}

const std::vector<double> through_it{-0.4, -0.3, -0.05, 0, 0.001, 0.01, 0.05, 0.2, 0.5};

TEST(MapOfASheet, ThatIsEvenIsTheSheetOfOneDimension) {
    // The same strips, whatever the cells across: only steps differ, at most 1e-8 of 5 kV each.
    const Clamps clamps{5000, 1e9, 3e9, 0.4, 0.02, {{0.7, 0.003}, {0.3, 0.05}}};
    for (const double view_m : {0.0, 0.03}) {
        SheetMap map = even_map(40, 3);
        map.leak_S_m2 = 2e-9;
        map.view_m = map.view_across_m = view_m;
        Backing fixture = backed;
        fixture.view_m = view_m;
        const Course cells = course_of(map, clamps, through_it, {.tolerance = 1e-8, .profiles = true});
        const Course strips =
            course_of(cut(fixture, 40), {1e11, 0, 2e-9}, clamps, through_it, {.profiles = true});
        EXPECT_LT(largest_difference(cells.sensed_V, strips.sensed_V), 5000 * 1e-6);
        EXPECT_LT(largest_difference(cells.clamp_V, strips.clamp_V), 1e-9);
        const double most_C_m = *std::ranges::max_element(strips.charge_C_m);
        EXPECT_LT(largest_difference(cells.charge_C_m, strips.charge_C_m), most_C_m * 1e-6);
        EXPECT_LT(largest_difference(cells.through_clamps_C_m, strips.through_clamps_C_m), most_C_m * 1e-6);
        EXPECT_LT(largest_difference(cells.leaked_C_m, strips.leaked_C_m), most_C_m * 1e-6);
        for (std::size_t i = 0; i < through_it.size(); ++i)
            for (std::size_t k = 0; k < 40; ++k) {
                EXPECT_NEAR(cells.potential_V[i][40 + k], strips.potential_V[i][k], 5000 * 1e-6);
                EXPECT_NEAR(cells.charge_C_m2[i][80 + k], strips.charge_C_m2[i][k], 5e-6 * 1e-6);
            }
    }
}

TEST(MapOfASheet, EarthedOnAllFourEdgesIsAProductOfTwoPlaneWalls) {
    // Heat-transfer handbooks: the middle of a long bar of rectangular section is the product of two plane
    // walls, each at the Fourier number of its own side (Bi -> infinity).
    SheetMap map = even_map(40, 40);
    map.framed = true;
    map.induced_fraction = 0;
    map.width_m = 0.05;
    const double T1_s = slowest_s(backed, 1e11), aside_s = T1_s * std::pow(map.width_m / map.gap_m, 2);
    const std::vector<double> times_s{0.05 * T1_s, 0.15 * T1_s, 0.4 * T1_s, T1_s};
    const Course course = course_of(map, {1}, times_s, {.tolerance = 1e-7});
    // Exactly so of the ladders, whose cells are 40.
    Backing along{map.gap_m, map.capacitance_F_m2}, aside{map.width_m, map.capacitance_F_m2};
    const Course first = course_of(cut(along, 40), {1e11}, {1}, times_s);
    const Course second = course_of(cut(aside, 40), {1e11}, {1}, times_s);
    for (std::size_t i = 0; i < times_s.size(); ++i) {
        EXPECT_NEAR(course.sensed_V[i], first.sensed_V[i] * second.sensed_V[i], 1e-6);
        // A ladder is off by pi^2/(24 n^2) and pi^2/(12 n^2) of what is left a T1, two of them.
        const double walls = plane_wall(times_s[i] / T1_s) * plane_wall(times_s[i] / aside_s);
        EXPECT_NEAR(course.sensed_V[i], walls, 2e-3 * walls + 5e-4);
    }
}

TEST(MapOfASheet, ConvergesWithTheSquareOfItsCells) {
    // Toward that product of plane walls, at 0.4 T1.
    const double T1_s = slowest_s(backed, 1e11);
    const auto error = [&](Eigen::Index cells) {
        SheetMap map = even_map(cells, cells);
        map.framed = true;
        map.induced_fraction = 0;
        map.width_m = map.gap_m;
        const double sensed_V = course_of(map, {1}, {0.4 * T1_s}, {.tolerance = 1e-8}).sensed_V.at(0);
        return sensed_V - plane_wall(0.4) * plane_wall(0.4);
    };
    const double coarse = error(16), middle = error(32), fine = error(64);
    EXPECT_NEAR(coarse / middle, 4, 0.2);
    EXPECT_NEAR(middle / fine, 4, 0.1);
}

TEST(MapOfASheet, OfThreadsAlongTheFieldConductsByTheirMean) {
    // Threads in parallel, from clamp to clamp, far finer than the gap: as a sheet of their mean conductance.
    // A poor thread of width w lags behind its neighbours by w^2 R c / 12, that is (pi^2/12) (w/gap)^2 R/mean
    // of T1: 2.8e-3 here, of half of the sheet.
    SheetMap map = even_map(40, 40);
    map.width_m = 0.025;
    const double good = 2e10, poor = 2e12;
    for (Eigen::Index j = 0; j < 40; ++j)
        map.surface_resistivity_ohm_sq.col(j).setConstant(j % 2 ? good : poor);
    const double mean = 2 / (1 / good + 1 / poor), T1_s = slowest_s(backed, mean);
    const std::vector<double> times_s{0, 0.1 * T1_s, 0.5 * T1_s, T1_s, 3 * T1_s};
    map.view_across_m = map.width_m;
    const Course threads = course_of(map, {5000}, times_s, {.tolerance = 1e-7});
    const Course even = course_of(cut(backed, 40), {mean}, {5000}, times_s);
    EXPECT_LT(largest_difference(threads.sensed_V, even.sensed_V), 5000 * 2.8e-3);
    EXPECT_GT(
        largest_difference(threads.sensed_V, course_of(cut(backed, 40), {poor}, {5000}, times_s).sensed_V),
        1000);
}

TEST(MapOfASheet, OfThreadsAcrossTheFieldConductsByTheHarmonicMean) {
    // In series it is resistances that add up: exactly so once a period is short. 80 threads.
    SheetMap map = even_map(160, 1);
    const double good = 2e10, poor = 2e12;
    for (Eigen::Index i = 0; i < 160; ++i)
        map.surface_resistivity_ohm_sq.row(i).setConstant(i % 2 ? good : poor);
    const double mean = (good + poor) / 2, T1_s = slowest_s(backed, mean);
    const std::vector<double> times_s{0, 0.1 * T1_s, 0.5 * T1_s, T1_s, 3 * T1_s};
    const Course threads = course_of(map, {5000}, times_s, {.tolerance = 1e-7});
    const Course even = course_of(cut(backed, 160), {mean}, {5000}, times_s);
    EXPECT_LT(largest_difference(threads.sensed_V, even.sensed_V), 5000 * 2e-3);
}

TEST(MapOfASheet, WithAPatchThatConductsFallsBetweenItsTwoMaterials) {
    SheetMap map = even_map(24, 12);
    map.surface_resistivity_ohm_sq.block(8, 4, 8, 4) = 1e10;
    const double T1_s = slowest_s(backed, 1e11);
    const std::vector<double> times_s{0.5 * T1_s, T1_s, 2 * T1_s};
    const auto poor = course_of(even_map(24, 12), {5000}, times_s).sensed_V;
    const auto good = course_of(even_map(24, 12, 1e10), {5000}, times_s).sensed_V;
    const auto patched = course_of(map, {5000}, times_s).sensed_V;
    for (std::size_t i = 0; i < times_s.size(); ++i) {
        EXPECT_LT(patched[i], poor[i]);
        EXPECT_GT(patched[i], good[i]);
    }
}

RC_GTEST_PROP(MapOfASheet, LosesNoChargeButThroughClampsAndLeak, ()) {
    const auto decades = [](int from, int to) {
        return std::pow(10, *rc::gen::inRange(10 * from, 10 * to) / 10.0);
    };
    SheetMap map = even_map(*rc::gen::inRange<Eigen::Index>(4, 9), *rc::gen::inRange<Eigen::Index>(1, 6));
    for (double& R : map.surface_resistivity_ohm_sq.reshaped()) R = decades(9, 13);
    map.framed = *rc::gen::arbitrary<bool>();
    const double T_s = 1e11 * 1e-9 * 6e-4;
    if (*rc::gen::arbitrary<bool>()) map.leak_S_m2 = 1e-9 / T_s * decades(-2, 1);
    Clamps clamps{-5000, *rc::gen::element(0.0, 1e9), *rc::gen::element(0.0, 1e12)};
    std::vector<double> times_s{0, 0.01 * T_s, T_s, 100 * T_s};
    const bool brief = *rc::gen::arbitrary<bool>();
    if (brief) {
        clamps.hold_s = T_s;
        clamps.rise_s = T_s / 30;
        times_s.insert(times_s.begin(), {-T_s, -T_s / 3});
    }
    if (*rc::gen::arbitrary<bool>()) clamps.fall = {{1, T_s / 10}};
    const Course course = course_of(map, clamps, times_s, {.tolerance = 1e-4, .profiles = true});
    const double full_C_m = 5000 * map.gap_m * map.capacitance_F_m2,
                 at_release = course.charge_C_m[brief ? 2 : 0];
    for (std::size_t i = 0; i < times_s.size(); ++i) {
        const double lost = at_release - course.charge_C_m[i];
        RC_ASSERT(std::abs(lost - course.through_clamps_C_m[i] - course.leaked_C_m[i]) <=
                  1e-9 * std::max(full_C_m, std::abs(course.through_clamps_C_m[i])));
        // Not the reading of a point: its cubic goes astray where neighbouring cells differ by decades.
        for (const double V : course.potential_V[i]) RC_ASSERT(std::abs(V) <= 5000 * (1 + 1e-3));
    }
}

TEST(MapOfASheet, RefusesWhatIsNone) {
    const auto refused = [](const SheetMap& map, const Clamps& clamps = {5000}) {
        const auto course = simulate(map, clamps, std::vector{0.0});
        return !course.ok() && course.error().code == Fault::bad_input && !course.error().what.empty();
    };
    EXPECT_FALSE(refused(even_map(4, 1)));
    EXPECT_TRUE(refused(even_map(3, 1))) << "too few cells along the gap";
    EXPECT_TRUE(refused(even_map(8, 0)));
    EXPECT_TRUE(refused(SheetMap{}));
    for (const double bad : {0.0, -1.0, std::nan(""), infinity}) {
        SheetMap map = even_map(8, 2);
        map.surface_resistivity_ohm_sq(7, 1) = bad;
        EXPECT_TRUE(refused(map)) << bad;
        map = even_map(8, 2);
        map.gap_m = bad;
        EXPECT_TRUE(refused(map)) << bad;
        map = even_map(8, 2);
        map.width_m = bad;
        EXPECT_TRUE(refused(map)) << bad;
        map = even_map(8, 2);
        map.capacitance_F_m2 = bad;
        EXPECT_TRUE(refused(map)) << bad;
        EXPECT_TRUE(refused(even_map(8, 2), {.voltage_V = bad == -1 ? 0 : bad})) << bad;
    }
    SheetMap map = even_map(8, 2);
    map.view_across_m = 0.06;
    EXPECT_TRUE(refused(map)) << "sees beyond the sheet";
    map = even_map(8, 2);
    map.leak_S_m2 = -1;
    EXPECT_TRUE(refused(map));
    map = even_map(8, 2);
    map.induced_fraction = 1;
    EXPECT_TRUE(refused(map));
}

}  // namespace
}  // namespace ebbtide::sheet
