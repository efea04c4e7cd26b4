// A sheet prepared once, asked for many resistivities.

#include "sheet/prepared_sheet.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include "support/cut_sheets.hpp"

namespace ebbtide::sheet {
namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();

PreparedSheet prepared(const CutSheet& sheet, const Material& material, const Clamps& clamps) {
    auto out = PreparedSheet::of(sheet, material, clamps);
    EXPECT_TRUE(out.ok()) << (out ? "" : out.error().text());
    return out.value();
}

TEST(PreparedSheet, FallsAsThePlaneWallForEveryResistivity) {
    // The series of any heat-transfer handbook; 200 strips are slow by pi^2/(12 n^2) and begin too high by
    // pi^2/(24 n^2), 6e-5 of what is left at 3 T1.
    const PreparedSheet sheet = prepared(cut(Backing{0.0762, 1e-9}), {1e11}, {1});
    for (const double R : {1e8, 1e11, 1e15}) {
        const double T1_s = slowest_s(backed, R);
        const std::vector<double> times_s{0, 0.05 * T1_s, 0.3 * T1_s, T1_s, 3 * T1_s};
        const auto sensed_V = sheet.sensed_V(R, {5000}, times_s).value();
        EXPECT_NEAR(sensed_V[0], 5000, 1e-8);
        for (std::size_t i = 1; i < times_s.size(); ++i)
            EXPECT_NEAR(sensed_V[i] / 5000, plane_wall(times_s[i] / T1_s), 6e-5) << R;
    }
}

/// Clamps with everything at once, in proportion to a resistivity of 1e11 ohm.
Clamps slow_clamps(double times) {
    return {5000, 1e9 * times, 3e9 * times, 0.4, 0.02, {{0.7, 0.003}, {0.3, 0.05}}};
}
Material everything(double times, bool hangs) {
    Material out{1e11 * times, 0, 2e-9 / times, {}};
    if (!hangs) out.absorption = {{3e-10, 0.01 * times}, {2e-10, 0.3 * times}};
    return out;
}

RC_GTEST_PROP(PreparedSheet, IsTheSameAsOneMadeForItsResistivity, ()) {
    const bool hangs = *rc::gen::arbitrary<bool>();
    const double times = std::pow(10, *rc::gen::inRange(-30, 31) / 10.0);
    const CutSheet sheet = hangs ? cut(hanging, 32) : cut(backed, 32);
    const std::vector<double> times_s{-0.4, -0.3, -0.05, 0, 0.001, 0.01, 0.05, 0.2, 0.5};
    const PreparedSheet base = prepared(sheet, everything(1, hangs), slow_clamps(1));
    const Clamps clamps = slow_clamps(times);
    const Course own = course_of(sheet, everything(times, hangs), clamps, times_s);
    const Course scaled = base.course(1e11 * times, clamps, times_s).value();
    const auto sensed_V = base.sensed_V(1e11 * times, clamps, times_s).value();
    RC_ASSERT(largest_difference(own.sensed_V, scaled.sensed_V) < 5000 * 1e-11);
    RC_ASSERT(largest_difference(own.sensed_V, sensed_V) < 5000 * 1e-11);
    const double full_C_m = 5000 * 0.0762 * 1.5e-9;
    RC_ASSERT(largest_difference(own.charge_C_m, scaled.charge_C_m) < full_C_m * 1e-11);
    // Flows, which leave less of a small difference.
    const double most_C_m = std::max(full_C_m, std::abs(*std::ranges::min_element(own.through_clamps_C_m)));
    RC_ASSERT(largest_difference(own.through_clamps_C_m, scaled.through_clamps_C_m) < most_C_m * 1e-10);
    RC_ASSERT(largest_difference(own.leaked_C_m, scaled.leaked_C_m) < most_C_m * 1e-10);
}

TEST(PreparedSheet, DoesNotMindAClampAsSlowAsAMode) {
    // A fall with the very rate of the first mode, and rates near it: (e^-rt - e^-lt) / (l - r) has no
    // quotient there. Steps know nothing of modes.
    const CutSheet sheet = cut(backed, 16);
    const double n = 16, T1_s = slowest_s(backed, 1e11);
    const double ladder_s =
        T1_s * std::pow(std::numbers::pi / (2 * n) / std::sin(std::numbers::pi / (2 * n)), 2);
    const std::vector<double> times_s{0, 0.1 * T1_s, T1_s, 3 * T1_s};
    const PreparedSheet modes = prepared(sheet, {1e11}, {5000});
    for (const double off : {0.0, 1e-13, 1e-9, 1e-6, 0.9e-4, 1.1e-4, 1e-2}) {
        const Clamps clamps{.voltage_V = 5000, .fall = {{1, ladder_s * (1 + off)}}};
        const Course steps = course_of(sheet, {1e11}, clamps, times_s, {Method::stepped, 1e-10});
        EXPECT_LT(largest_difference(modes.sensed_V(1e11, clamps, times_s).value(), steps.sensed_V),
                  5000 * 1e-8)
            << off;
    }
}

TEST(PreparedSheet, TakesManyTimesAsItTakesFew) {
    // A time's reading is its own, whichever others are asked: to the last bit.
    const PreparedSheet sheet = prepared(cut(hanging), {1e11}, {5000});
    std::vector<double> times_s;
    for (int i = -100; i < 3000; ++i) times_s.push_back(i * 1e-4);
    const auto all = sheet.sensed_V(2e11, {5000}, times_s).value();
    for (const std::size_t i : {0u, 99u, 100u, 101u, 350u, 3099u})
        EXPECT_EQ(all[i], sheet.sensed_V(2e11, {5000}, std::span(times_s).subspan(i, 1)).value()[0]) << i;
    EXPECT_EQ(sheet.sensed_V(2e11, {5000}, {}).value().size(), 0u);
    EXPECT_EQ(sheet.sensed_V(1e-3, {5000}, std::vector{1.0}).value()[0], 0) << "long gone";
}

TEST(PreparedSheet, RefusesWhatItWasNotMadeFor) {
    const CutSheet sheet = cut(backed, 16);
    EXPECT_FALSE(PreparedSheet::of(sheet, {1e11, 1e-3}, {1}).ok()) << "depends on the field";
    EXPECT_FALSE(PreparedSheet::of(cut(hanging, 16), {1e11, 0, 0, {{1e-10, 1}}}, {1}).ok())
        << "hangs, absorbs";
    EXPECT_FALSE(PreparedSheet::of(sheet, {0}, {1}).ok());
    EXPECT_FALSE(PreparedSheet::of(sheet, {1e11}, {0}).ok());
    const PreparedSheet made = prepared(sheet, {1e11}, {1, 1e9, 2e9});
    const std::vector<double> now{0};
    EXPECT_TRUE(made.sensed_V(3e11, {1, 3e9, 6e9}, now).ok());
    EXPECT_FALSE(made.sensed_V(3e11, {1, 1e9, 2e9}, now).ok()) << "contacts in another proportion";
    for (const double bad : {0.0, -1.0, std::nan(""), infinity, 1e80})
        EXPECT_FALSE(made.sensed_V(bad, {1, 1e9, 2e9}, now).ok()) << bad;
    EXPECT_FALSE(made.sensed_V(1e11, {1, 1e9, 2e9}, std::vector{1.0, 0.5}).ok()) << "backward in time";
    EXPECT_FALSE(made.course(1e11, {0, 1e9, 2e9}, now).ok());
}

}  // namespace
}  // namespace ebbtide::sheet
