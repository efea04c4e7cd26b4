// The laws of a fall against the forward model, which knows nothing of them.

#include "sheet/fall_law.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "sheet/forward.hpp"

namespace ebbtide::sheet {
namespace {

constexpr CrossSection hanging{0.0762, 0.025, 0.025, 0.05};
constexpr Backing backed{0.0762, 1e-9, 0, 0.1};
constexpr double clamp_V = 5000;

TimedSheet timed(const Fixture& fixture) {
    auto sheet = TimedSheet::of(fixture);
    EXPECT_TRUE(sheet.ok());
    return sheet.value();
}

/// What a first-order sensor shows of a course that began at `before_V`, by small steps of its own equation.
std::vector<double> seen(const TimedSheet& sheet, const Material& material, const Clamps& clamps,
                         double lag_s, const std::vector<double>& times_s) {
    const double from = clamps.hold_s ? -*clamps.hold_s : 0, to = times_s.back();
    const std::size_t count = 40000;
    std::vector<double> grid;
    for (std::size_t i = 0; i <= count; ++i)
        grid.push_back(from + (to - from) * static_cast<double>(i) / static_cast<double>(count));
    Options options;
    options.tolerance = 1e-7;
    const auto course = simulate(sheet.sheet(), material, clamps, grid, options);
    EXPECT_TRUE(course.ok());
    if (!course) return {};
    std::vector<double> out;
    double shown = clamps.hold_s ? 0 : clamps.voltage_V;
    const double h = grid[1] - grid[0], keep = lag_s > 0 ? std::exp(-h / lag_s) : 0;
    std::size_t next = 0;
    for (std::size_t i = 0; i <= count; ++i) {
        if (i > 0) {
            const double middle = (course->sensed_V[i] + course->sensed_V[i - 1]) / 2;
            shown = lag_s > 0 ? middle + (shown - middle) * keep : course->sensed_V[i];
        }
        while (next < times_s.size() && times_s[next] <= grid[i] + h / 2) {
            out.push_back(shown);
            ++next;
        }
    }
    return out;
}

std::vector<double> law_at(const fit::Law& law, const std::vector<double>& theta,
                           const std::vector<double>& times_s) {
    return fit::values_of(law, std::vector<double>{clamp_V}, theta, times_s);
}

void expect_near(const std::vector<double>& a, const std::vector<double>& b, double tolerance_V) {
    ASSERT_EQ(a.size(), b.size());
    for (std::size_t i = 0; i < a.size(); ++i) EXPECT_NEAR(a[i], b[i], tolerance_V) << i;
}

TEST(LinearFall, IsTheForwardModelThroughClampsAndSensor) {
    for (const Fixture& fixture : {Fixture(hanging), Fixture(backed)}) {
        const TimedSheet sheet = timed(fixture);
        const double resistivity = 2e11, T = resistivity * sheet.time_per_ohm_s();
        std::vector<double> times;
        for (int i = 1; i < 60; ++i) times.push_back(0.1 * i * T);
        for (const bool short_hold : {false, true}) {
            Clamps clamps;
            clamps.voltage_V = clamp_V;
            clamps.fall = {{1, 0.04 * T}};
            if (short_hold) clamps.hold_s = 1.5 * T;
            const double lag = 0.1 * T;
            const fit::Law law = linear_fall(sheet.modes(), {lag, 0.04 * T, clamps.hold_s});
            // The grid of the comparison is T/6000: half a step is 1e-4 of a fall.
            expect_near(law_at(law, {T}, times), seen(sheet, Material{resistivity}, clamps, lag, times), 1.0);
        }
    }
}

/// Slopes against differences of values.
void expect_slopes(const fit::Law& law, const std::vector<double>& theta, double tolerance) {
    const std::vector<double> t{0, 0.001, 0.01, 0.05, 0.2, 0.5};
    const auto rows = static_cast<Eigen::Index>(t.size());
    Eigen::MatrixXd columns(rows, 1), slopes(rows, static_cast<Eigen::Index>(law.slopes.size()));
    law.evaluate(t, theta, columns, slopes);
    for (std::size_t k = 0; k < theta.size(); ++k) {
        constexpr double h = 1e-5;
        std::vector<double> up = theta, down = theta;
        up[k] *= std::exp(h);
        down[k] *= std::exp(-h);
        const auto high = fit::values_of(law, std::vector<double>{1}, up, t);
        const auto low = fit::values_of(law, std::vector<double>{1}, down, t);
        for (std::size_t i = 0; i < t.size(); ++i)
            EXPECT_NEAR(slopes(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(k)),
                        (high[i] - low[i]) / (2 * h), tolerance)
                << k << " at " << t[i];
    }
}

TEST(LinearFall, KnowsItsSlopes) {
    const TimedSheet sheet = timed(hanging);
    expect_slopes(linear_fall(sheet.modes(), {}), {0.1}, 1e-8);
    expect_slopes(linear_fall(sheet.modes(), {0.005, 0.002, 0.3}), {0.1}, 1e-8);
    expect_slopes(linear_fall(sheet.modes(), {0.005, 0.005, {}}), {0.1}, 1e-6);  // lag and fall are alike
    expect_slopes(linear_fall(sheet.modes(), {0.1, 0, {}}), {0.1}, 1e-4);        // a mode meets the lag
}

TEST(LinearFall, StaysSmoothWhereAModeMeetsTheLag) {
    const TimedSheet sheet = timed(backed);
    const fit::Law law = linear_fall(sheet.modes(), {0.1, 0, {}});
    const std::vector<double> t{0.03, 0.1, 0.4};
    const auto at = law_at(law, {0.1}, t), beside = law_at(law, {0.1 * (1 + 1e-4)}, t);
    for (std::size_t i = 0; i < t.size(); ++i) EXPECT_NEAR(at[i], beside[i], 1e-3 * clamp_V);
}

TEST(FallThroughContacts, IsTheForwardModelBetweenItsNodes) {
    for (const Fixture& fixture : {Fixture(hanging), Fixture(backed)}) {
        const TimedSheet sheet = timed(fixture);
        const fit::Law law = fall_model(sheet, Second::contact)->law({});
        const double resistivity = 2e11, T = resistivity * sheet.time_per_ohm_s();
        const std::vector<double> times{0.02 * T, 0.1 * T, 0.5 * T, T, 3 * T, 10 * T};
        for (const double ratio : {0.003, 0.12, 1.7}) {
            Clamps clamps;
            clamps.voltage_V = clamp_V;
            clamps.left_contact_ohm_m = clamps.right_contact_ohm_m = ratio * resistivity * sheet.gap_m();
            const auto course = simulate(sheet.sheet(), Material{resistivity}, clamps, times);
            ASSERT_TRUE(course.ok());
            expect_near(law_at(law, {T, ratio}, times), course->sensed_V, 5e-5 * clamp_V);
        }
        expect_slopes(law, {0.1, 0.2}, 1e-4);
    }
}

TEST(FallInOwnField, IsTheForwardModelBetweenItsNodes) {
    const TimedSheet sheet = timed(backed);
    const auto model = fall_model(sheet, Second::field);
    ASSERT_TRUE(model.ok());
    const fit::Law law = model->law({});
    const double resistivity = 2e11, T = resistivity * sheet.time_per_ohm_s();
    const std::vector<double> times{0.02 * T, 0.1 * T, 0.5 * T, T, 3 * T, 10 * T};
    for (const double exponent : {0.1, 0.73, 1.9}) {
        Material material{resistivity};
        material.field_coefficient = exponent / std::sqrt(clamp_V / sheet.gap_m());
        Clamps clamps;
        clamps.voltage_V = clamp_V;
        Options options;
        options.tolerance = 1e-7;
        const auto course = simulate(sheet.sheet(), material, clamps, times, options);
        ASSERT_TRUE(course.ok());
        expect_near(law_at(law, {T, exponent}, times), course->sensed_V, 1e-4 * clamp_V);
    }
    expect_slopes(law, {0.1, 0.5}, 1e-3);
    // Without a dependence on the field, and through a sensor, it is the linear law.
    const Between between{0.02 * T, 0, {}};
    expect_near(law_at(model->law(between), {T, 1e-9}, times),
                law_at(linear_fall(sheet.modes(), between), {T}, times), 1e-4 * clamp_V);
}

}  // namespace
}  // namespace ebbtide::sheet
