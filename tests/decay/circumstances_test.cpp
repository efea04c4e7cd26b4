// Laws of sheets, and laws as a slow sensor and a short hold show them.

#include <gtest/gtest.h>

#include <boost/math/quadrature/tanh_sinh.hpp>
#include <cmath>
#include <numbers>
#include <numeric>

#include "decay/cross_section.hpp"
#include "decay/law.hpp"
#include "fit/fit.hpp"
#include "support/agrees.hpp"

namespace ebbtide::decay {
namespace {

using testing_support::agrees;

const fit::Spread own{fit::Scatter::from_residuals};
const sheet::Modes three_modes{{1, 4.5, 8}, {1.1, -0.15, 0.05}, 0.1, 1e-9};

std::vector<double> shape_of(LawKind kind) {
    switch (kind) {
        case LawKind::exponential:
        case LawKind::backed_sheet:
        case LawKind::hanging_sheet:
            return {1.1};
        case LawKind::two_exponentials:
            return {0.3, 1.4};
        case LawKind::three_exponentials:
            return {0.1, 0.5, 2.5};
        case LawKind::stretched:
            return {0.9, 0.6};
        case LawKind::power:
            return {0.7, 1.3};
    }
    return {};
}

/// One column of a law at one moment.
double phi(const fit::Law& law, double t, const std::vector<double>& theta, Eigen::Index column = 0) {
    Eigen::MatrixXd columns(1, static_cast<Eigen::Index>(law.amplitudes.size())), none(1, 0);
    law.evaluate({&t, 1}, theta, columns, none);
    return columns(0, column);
}

double time_to(const fit::Law& law, const std::vector<double>& theta, double level) {
    double low = 0, high = 100;
    for (int i = 0; i < 70; ++i) (phi(law, (low + high) / 2, theta) > level ? low : high) = (low + high) / 2;
    return low;
}

TEST(BackedSheetLaw, IsThePlaneWallOfHeatTransferHandbooks) {
    // Bi -> infinity: Fo 0.37875, 0.50318, 1.03110, 1.96431 to 50 %, 1/e, 10 %, 1 %; t/T1 = Fo pi^2/4.
    const fit::Law law = law_of(LawKind::backed_sheet, {});
    const double per_T1 = 4 / (std::numbers::pi * std::numbers::pi);
    EXPECT_TRUE(agrees(time_to(law, {1}, 0.5) * per_T1, "0.37875"));
    EXPECT_TRUE(agrees(time_to(law, {1}, 1 / std::numbers::e) * per_T1, "0.50318"));
    EXPECT_TRUE(agrees(time_to(law, {1}, 0.1) * per_T1, "1.03110"));
    EXPECT_TRUE(agrees(time_to(law, {1}, 0.01) * per_T1, "1.96431"));
    // One term, C1 = 1.2732.
    EXPECT_TRUE(agrees(phi(law, 8, {1}) * std::exp(8), "1.2732"));
}

TEST(BackedSheetLaw, IsItsSeriesOnBothSidesOfItsTwoForms) {
    const fit::Law law = law_of(LawKind::backed_sheet, {});
    for (const double t : {0.01, 0.1, 0.3, 0.449999, 0.450001, 0.7, 2.0, 20.0}) {
        double sum = 0, sign = 4 / std::numbers::pi;
        for (int n = 1; n < 400; n += 2, sign = -sign) sum += sign / n * std::exp(-n * n * t);
        EXPECT_NEAR(phi(law, t, {1}), sum, 3e-15) << t;
    }
    EXPECT_EQ(phi(law, 0, {1}), 1);
}

TEST(HangingSheetLaw, IsThereOnlyWithAFixture) {
    const auto has = [](const Circumstances& circumstances) {
        return std::ranges::count(law_kinds_under(circumstances), LawKind::hanging_sheet) == 1;
    };
    EXPECT_FALSE(has({}));
    EXPECT_TRUE(has({.modes = three_modes}));
    const fit::Law law = law_of(LawKind::hanging_sheet, {}, {.modes = three_modes});
    EXPECT_NEAR(phi(law, 0.6, {2}), 1.1 * std::exp(-0.3) - 0.15 * std::exp(-1.35) + 0.05 * std::exp(-2.4),
                1e-15);
}

TEST(FixtureOfABench, GivesTheSheetsModes) {
    plan::Fixture fixture;
    fixture.clamp_gap_mm = 76.2;
    fixture.sensor_distance_mm = 25;
    EXPECT_FALSE(cross_section_of(fixture).has_value()) << "no wall behind";
    fixture.enclosure_behind_mm = 50;
    ASSERT_TRUE(cross_section_of(fixture).has_value());
    EXPECT_NEAR(cross_section_of(fixture)->gap_m, 0.0762, 1e-15);
    EXPECT_NEAR(cross_section_of(fixture)->sensor_distance_m, 0.025, 1e-15);
    EXPECT_NEAR(cross_section_of(fixture)->enclosure_behind_m, 0.05, 1e-15);
    EXPECT_EQ(cross_section_of(fixture)->clamp_m, 0.025);
    fixture.clamp_length_mm = 40;
    EXPECT_NEAR(cross_section_of(fixture)->clamp_m, 0.04, 1e-15);
    // "Of 10 to 100 mm it moves the slowest mode by less than 1 %."
    auto shorter = *cross_section_of(fixture), longer = shorter;
    shorter.clamp_m = 0.01;
    longer.clamp_m = 0.1;
    EXPECT_NEAR(
        sheet::hanging_modes(shorter)->capacitance_F_m2 / sheet::hanging_modes(longer)->capacitance_F_m2, 1,
        0.01);
}

TEST(SensorLag, DelaysAnExponentialByTheKnownAmount) {
    // Lag 0.3 T: t(10 %) late by 0.35607 T, t(50 %) by 0.32863 T (two-exponential response, R 4.2.2); at late
    // times -T ln(1 - s/T).
    const fit::Law law = law_of(LawKind::exponential, {}, {.lag_s = 0.3});
    EXPECT_TRUE(agrees(time_to(law, {1}, 0.5) - std::log(2), "0.32863", 1)) << "the source cuts";
    EXPECT_TRUE(agrees(time_to(law, {1}, 0.1) - std::log(10), "0.35607"));
    EXPECT_NEAR(time_to(law, {1}, 1e-12) - 12 * std::log(10), -std::log(0.7), 1e-9);
}

/// ratio exp(-t/s) + integral of v(u) exp(-(t - u)/s) du/s, by Boost's tanh-sinh.
double by_integration(const fit::Law& law, const std::vector<double>& theta, Eigen::Index column, double lag,
                      double ratio, double t) {
    boost::math::quadrature::tanh_sinh<double> integrate(12);
    double out = ratio * std::exp(-t / lag), since = 0;
    for (const double until : {1.0, 3.0, 9.0, 20.0, 40.0}) {
        const double end = std::min(until, t / lag);
        if (end <= since) break;
        const double middle = (since + end) / 2, half = (end - since) / 2;
        out += half * integrate.integrate(
                          [&](double x) {
                              const double w = middle + half * x;
                              return std::exp(-w) * phi(law, std::max(t - lag * w, 0.0), theta, column);
                          },
                          1e-13);
        since = end;
    }
    return out;
}

TEST(SensorLag, OfEveryLawIsItsIntegral) {
    const Circumstances bare{.modes = three_modes};
    for (const LawKind kind : law_kinds_under(bare))
        for (const double lag : {0.003, 0.1, 1.1, 40.0})
            for (const double t : {0.001, 0.08, 0.5, 3.2, 12.0}) {
                const Circumstances seen{.lag_s = lag, .start_ratio = 1.2, .modes = three_modes};
                const fit::Law law = law_of(kind, {}, bare), lagged = law_of(kind, {}, seen);
                for (Eigen::Index j = 0; j < static_cast<Eigen::Index>(law.amplitudes.size()); ++j) {
                    const double reference = by_integration(law, shape_of(kind), j, lag, 1.2, t);
                    const double error = std::abs(phi(lagged, t, shape_of(kind), j) - reference);
                    EXPECT_LT(error, 1e-10) << law.name << " " << lag << " " << t;
                }
            }
}

TEST(SensorLag, OfAStretchedLawHoldsForAnyExponent) {
    for (const double exponent : {0.15, 0.4, 1.0, 2.0, 3.0})
        for (const double lag : {0.01, 0.5, 8.0})
            for (const double t : {0.01, 0.3, 1.1, 6.0}) {
                const std::vector<double> theta{0.9, exponent};
                const double reference = by_integration(law_of(LawKind::stretched, {}), theta, 0, lag, 1, t);
                const double error =
                    std::abs(phi(law_of(LawKind::stretched, {}, {.lag_s = lag}), t, theta) - reference);
                EXPECT_LT(error, 1e-10) << exponent << " " << lag << " " << t;
            }
}

TEST(SensorLag, IsTheSameRowByRowAndInOneGo) {
    for (const LawKind kind : {LawKind::stretched, LawKind::power}) {
        const fit::Law law = law_of(kind, {}, {.lag_s = 0.2, .start_ratio = 1.1});
        std::vector<double> t{0, 0};
        for (int i = 0; i < 700; ++i) t.push_back(0.003 * i * (1 + i / 90));
        Eigen::MatrixXd columns(702, 1), slopes(702, 2);
        law.evaluate(t, shape_of(kind), columns, slopes);
        for (std::size_t i = 0; i < t.size(); ++i)
            EXPECT_NEAR(columns(static_cast<Eigen::Index>(i), 0), phi(law, t[i], shape_of(kind)), 1e-11)
                << t[i];
    }
}

TEST(SensorLag, MeetsATimeConstantWithoutAJump) {
    // At s = T the answer is (1 + t/T) exp(-t/T) (limit of the two-exponential response).
    for (const double near : {0.0, 1e-15, 1e-9, 1e-6})
        EXPECT_NEAR(phi(law_of(LawKind::exponential, {}, {.lag_s = 1 + near}), 2, {1}), 3 * std::exp(-2),
                    1e-6 * near + 1e-15 + near);
}

/// Charging from uncharged, then the fall, through the sensor, by small steps (Runge and Kutta): the
/// electrode at 1 is seen as `seen` beside a sheet that charges to 1.
double stepped(const fit::Law& law, const std::vector<double>& theta, double lag, double seen, double hold,
               double t) {
    double y = 0;
    const auto follow = [&](double length, const auto& v) {
        const int steps = 4000;
        const double h = length / steps;
        for (int i = 0; i < steps; ++i) {
            const double start = i * h;
            const auto rate = [&](double at, double value) { return (v(at) - value) / lag; };
            const double k1 = rate(start, y), k2 = rate(start + h / 2, y + h / 2 * k1);
            const double k3 = rate(start + h / 2, y + h / 2 * k2), k4 = rate(start + h, y + h * k3);
            y += h / 6 * (k1 + 2 * k2 + 2 * k3 + k4);
        }
    };
    follow(hold, [&](double at) { return seen + 1 - phi(law, at, theta); });
    follow(t, [&](double at) { return phi(law, at, theta) - phi(law, at + hold, theta); });
    return y;
}

TEST(ShortHold, ThroughASensorIsTheWholePulse) {
    const Circumstances bare{.modes = three_modes};
    for (const LawKind kind : {LawKind::exponential, LawKind::backed_sheet, LawKind::hanging_sheet})
        for (const double hold : {0.4, 2.0})
            for (const double t : {0.05, 0.7}) {
                const Circumstances seen{
                    .lag_s = 0.3, .start_ratio = 1.25, .hold_s = hold, .modes = three_modes};
                EXPECT_NEAR(phi(law_of(kind, {}, seen), t, shape_of(kind)),
                            stepped(law_of(kind, {}, bare), shape_of(kind), 0.3, 0.25, hold, t), 1e-9)
                    << name_of(kind) << " " << hold << " " << t;
            }
}

std::vector<Circumstances> all_circumstances(double unit = 1) {
    return {{.modes = three_modes},
            {.lag_s = 0.05 * unit, .modes = three_modes},
            {.lag_s = 0.2 * unit, .start_ratio = 1.2, .modes = three_modes},
            {.hold_s = 1.5 * unit, .modes = three_modes},
            {.lag_s = 0.2 * unit, .start_ratio = 1.2, .hold_s = 1.5 * unit, .modes = three_modes}};
}

TEST(LawsUnderCircumstances, HaveTheSlopesOfTheirColumns) {
    const std::vector<double> t{0, 1e-3, 0.2, 0.21, 0.9, 1, 4, 30};
    for (const Circumstances& circumstances : all_circumstances())
        for (const LawKind kind : law_kinds_under(circumstances)) {
            const fit::Law law = law_of(kind, {}, circumstances);
            std::vector<double> theta = shape_of(kind);
            Eigen::MatrixXd columns(8, static_cast<Eigen::Index>(law.amplitudes.size())), up(columns),
                down(columns), slopes(8, static_cast<Eigen::Index>(law.slopes.size())), none(8, 0);
            law.evaluate(t, theta, columns, slopes);
            for (std::size_t s = 0; s < law.slopes.size(); ++s) {
                const auto [column, parameter] = law.slopes[s];
                const double h = 1e-5, middle = theta[parameter];
                theta[parameter] = middle * std::exp(h);
                law.evaluate(t, theta, up, none);
                theta[parameter] = middle * std::exp(-h);
                law.evaluate(t, theta, down, none);
                theta[parameter] = middle;
                const auto j = static_cast<Eigen::Index>(column);
                for (Eigen::Index i = 0; i < 8; ++i)  // differences of 1e-15 over 2e-5, twice
                    EXPECT_NEAR(slopes(i, static_cast<Eigen::Index>(s)), (up(i, j) - down(i, j)) / (2 * h),
                                1e-9)
                        << law.name << " " << law.shape[parameter].name << " " << circumstances.lag_s;
            }
        }
}

TEST(LawsUnderCircumstances, StayFiniteAtTheEndsOfTheirRange) {
    const std::vector<double> t{0, 1e-300, 1e-9, 1, 1e9};
    for (const double lag : {1e-12, 1.0, 1e12})
        for (const double scale : {1e-12, 1e12}) {
            const Circumstances circumstances{
                .lag_s = lag, .start_ratio = 2, .hold_s = 1, .modes = three_modes};
            for (const LawKind kind : law_kinds_under(circumstances)) {
                const fit::Law law = law_of(kind, {Offset::Kind::free}, circumstances);
                std::vector<double> theta;
                for (const fit::ShapeParameter& p : law.shape)
                    theta.push_back(p.scales_with_x ? scale : scale < 1 ? p.lowest : p.highest);
                Eigen::MatrixXd columns(5, static_cast<Eigen::Index>(law.amplitudes.size()));
                Eigen::MatrixXd slopes(5, static_cast<Eigen::Index>(law.slopes.size()));
                law.evaluate(t, theta, columns, slopes);
                EXPECT_TRUE(columns.allFinite() && slopes.allFinite())
                    << law.name << " " << scale << " " << lag;
            }
        }
}

fit::CurveStore clean(const fit::Law& law, LawKind kind, double unit, std::size_t count = 300) {
    fit::CurveStore out;
    for (std::size_t i = 0; i < count; ++i)
        out.x.push_back(5 * unit * static_cast<double>(i) / static_cast<double>(count));
    std::vector<double> theta = shape_of(kind);
    for (std::size_t k = 0; k < theta.size(); ++k)
        if (law.shape[k].scales_with_x) theta[k] *= unit;
    out.y = fit::values_of(law, std::vector<double>(law.amplitudes.size(), 0.8), theta, out.x);
    return out;
}

TEST(LawsUnderCircumstances, ReturnTheTruthInAnyUnitOfTime) {
    for (const double unit : {1.0, 1.7e-6})
        for (const Circumstances& circumstances : all_circumstances(unit))
            for (const LawKind kind : law_kinds_under(circumstances)) {
                const fit::Law law = law_of(kind, {Offset::Kind::free}, circumstances);
                const fit::CurveStore curve = clean(law, kind, unit);
                const fit::Fit found = fit::fit(law, curve.view(), own);
                ASSERT_TRUE(found.ok()) << law.name << ": " << found.reason;
                const std::vector<double> truth = shape_of(kind), shape = found.shape(law);
                for (std::size_t k = 0; k < truth.size(); ++k)
                    EXPECT_NEAR(shape[k] / (truth[k] * (law.shape[k].scales_with_x ? unit : 1)), 1, 1e-6)
                        << law.name << " " << law.shape[k].name << " " << circumstances.lag_s;
                for (const double amplitude : found.amplitudes(law)) EXPECT_NEAR(amplitude, 0.8, 1e-6);
            }
}

/// Time constant fitted to what `seen` shows of T = 1.1, as if there were no such circumstance.
double time_if_ignored(LawKind kind, const Circumstances& seen) {
    const fit::Law plain = law_of(kind, {}, {.modes = three_modes});
    const fit::CurveStore curve = clean(law_of(kind, {}, seen), kind, 1);
    const fit::Fit found = fit::fit(plain, curve.view(), own);
    return found.shape(plain).at(0);
}

TEST(SensorLag, IgnoredMakesEveryTimeConstantTooLong) {
    for (const LawKind kind : {LawKind::exponential, LawKind::backed_sheet, LawKind::hanging_sheet}) {
        const double error = time_if_ignored(kind, {.lag_s = 0.1, .modes = three_modes}) / 1.1 - 1;
        EXPECT_GT(error, 0.01) << name_of(kind);
        EXPECT_LT(error, 0.1) << name_of(kind);
    }
}

TEST(ShortHold, IgnoredMakesASheetLookFasterButForAnExponential) {
    // exp(-t/T) - exp(-(t + h)/T) is an exponential of the same T: only its start is lower.
    EXPECT_NEAR(time_if_ignored(LawKind::exponential, {.hold_s = 0.5}) / 1.1, 1, 1e-6);
    EXPECT_GT(
        std::abs(time_if_ignored(LawKind::backed_sheet, {.hold_s = 0.5, .modes = three_modes}) / 1.1 - 1),
        0.03);
    EXPECT_LT(time_if_ignored(LawKind::stretched, {.hold_s = 0.5, .modes = three_modes}) / 0.9, 0.8);
}

}  // namespace
}  // namespace ebbtide::decay
