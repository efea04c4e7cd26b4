// What a round opening in the sensor's face averages, against closed forms and quadratures that share nothing
// with the rules of the product.

#include "sheet/sensor_view.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <cmath>
#include <numbers>

#include "sheet/elements.hpp"
#include "sheet/map.hpp"
#include "support/cut_sheets.hpp"

namespace ebbtide::sheet {
namespace {

using std::numbers::pi;

/// A line of charge 1 over a lone earthed plane, far from any other: lengths in gaps.
double field_of_line(double at, double height, double aperture) {
    const Strip line{at - 1e-4, at + 1e-4};
    return BetweenPlanes(height, 2000).field_at_sensor(line, aperture);
}

TEST(RoundOpening, SeesALineOverAPlaneAsItsClosedForm) {
    // Opposite the opening: the mean over a disc of radius a of h / (pi (h^2 + x^2)) is 2 (sqrt(a^2 + h^2) -
    // h) / (pi a^2); the charge that a line induces on a plane stands in any text on electrostatics, the
    // integral over chords in any table.
    for (const double h : {0.05, 0.3})
        for (const double a : {0.01, 0.05, 0.2, 0.5}) {
            const double exact = 2 * (std::hypot(a, h) - h) / (pi * a * a);
            // Two planes 2,000 gaps apart are a lone one to (h/2000)^2; the line is 2e-4 wide.
            EXPECT_NEAR(field_of_line(0, h, 2 * a) / exact, 1, 2e-6) << h << " " << a;
        }
    // A point opening is the limit.
    EXPECT_NEAR(field_of_line(0, 0.3, 0) * pi * 0.3, 1, 1e-6);
}

TEST(RoundOpening, SeesALineAsideAsPointChargesOverAPlaneDo) {
    // A point charge at the height h over a plane induces h / (2 pi (r^2 + h^2)^1.5) (image charge, any
    // text); a line is many of them. Summed over the disc in polar places and along the line, by midpoints.
    const double h = 0.2, a = 0.15;
    for (const double at : {0.0, 0.1, 0.35}) {
        double sum = 0;
        constexpr int rings = 60, places = 60, along = 4000;
        constexpr double reach = 40;  // beyond: h^2 / reach^2
        for (int i = 0; i < rings; ++i)
            for (int j = 0; j < places; ++j) {
                const double r = a * std::sqrt((i + 0.5) / rings), turn = pi * (j + 0.5) / places;
                const double x = r * std::cos(turn) - at;
                // y = tan u: the line's far parts count little.
                for (int k = 0; k < along / 100; ++k) {
                    const double u = std::atan(reach) * (k + 0.5) / (along / 100), y = std::tan(u);
                    const double d2 = x * x + y * y + h * h;
                    sum += 2 * h / (2 * pi * d2 * std::sqrt(d2)) * (1 + y * y) * std::atan(reach) /
                           (along / 100);
                }
            }
        EXPECT_NEAR(field_of_line(at, h, 2 * a) / (sum / (rings * places)), 1, 1e-3) << at;
    }
}

TEST(RoundOpening, OfAPointWeighsAPlaneAsItsClosedForms) {
    // On the axis of a point opening h^2 W = 7 zeta(3) / (4 pi), the odd cubes' sum; Apery's constant
    // 1.2020569 (any table). A band of half width x: tanh(pi x / 2h).
    const FaceView point{0.02};
    EXPECT_NEAR(weight_per_m2(0, point) * 0.02 * 0.02, 7 * 1.2020569 / (4 * pi), 1e-6);
    EXPECT_NEAR(share_of_band(-0.01, 0.01, point), std::tanh(pi / 4), 1e-12);
}

TEST(RoundOpening, WeighsAPlaneAsTheHankelIntegralDoes) {
    // W(r) = h/(2 pi) int k^2/sinh(kh) 2 J1(ka)/(ka) J0(kr) dk: waves in the plane, Bessel functions of the
    // standard library. To 1e-6 of the axis.
    for (const double a : {0.002, 0.01, 0.04}) {
        const double h = 0.02;
        const auto hankel = [&](double r) {
            double sum = 0;
            constexpr int steps = 4000;
            const double step = 45 / h / steps;
            for (int i = 1; i <= steps; ++i) {
                const double k = (i - 0.5) * step;
                sum += k * k / std::sinh(k * h) * 2 * std::cyl_bessel_j(1, k * a) / (k * a) *
                       std::cyl_bessel_j(0, k * r) * step;
            }
            // Midpoints of what begins as k/h lack this much (Euler and Maclaurin).
            return h / (2 * pi) * (sum - step * step / (24 * h));
        };
        const FaceView view{h, 2 * a};
        const double on_axis = weight_per_m2(0, view);
        for (const double r : {0.0, 0.005, 0.02, 0.05, 0.09})
            EXPECT_NEAR(weight_per_m2(r, view), hankel(r), 3e-6 * on_axis) << a << " " << r;
    }
}

TEST(RoundOpening, SeesAWidePlaneAlikeByCellsAndByBands) {
    // Summed along the clamps the weights of cells are those of strips: on a map so wide that nothing is cut.
    const FaceView view{0.01, 0.012};
    std::vector<double> along, across;
    for (int i = 0; i <= 40; ++i) along.push_back(0.08 * i / 40);
    for (int i = 0; i <= 120; ++i) across.push_back(0.24 * i / 120);
    const Eigen::VectorXd cells = view_from(along, across, view).rowwise().sum();
    const Eigen::VectorXd strips = view_from(along, view);
    EXPECT_LT((cells - strips).cwiseAbs().maxCoeff(), 1e-5 * strips.maxCoeff());
    EXPECT_NEAR(strips.sum(), 1, 1e-12);
}

TEST(RoundOpening, BroadensWhatASensorSeesOfAHangingSheet) {
    // The wider the opening the more of the clamps it sees; a small one is a point: its second order is
    // (a/h)^2.
    CrossSection fixture = hanging;
    const double point = cut(fixture).induced_fraction;
    double before = point;
    for (const double aperture_m : {0.003, 0.01, 0.03, 0.06}) {
        fixture.aperture_m = aperture_m;
        const CutSheet sheet = cut(fixture);
        EXPECT_GT(sheet.induced_fraction, before) << aperture_m;
        before = sheet.induced_fraction;
        // The two ways to the modes know of it alike, and the hold reads 1 still.
        EXPECT_NEAR(hanging_modes(fixture)->induced_fraction, sheet.induced_fraction, 1e-9);
        const Course course = course_of(sheet, {1e11}, {1}, {-1, 0});
        EXPECT_NEAR(course.sensed_V[0], 1, 1e-10);
        EXPECT_NEAR(course.sensed_V[1], 1 - sheet.induced_fraction, 1e-10);
    }
    fixture.aperture_m = 1e-4;
    EXPECT_NEAR(cut(fixture).induced_fraction, point, 1e-5);
    fixture.aperture_m = 0.08;
    EXPECT_FALSE(cut_sheet(fixture).ok()) << "wider than the gap";
    fixture.aperture_m = -1;
    EXPECT_FALSE(cut_sheet(fixture).ok());
}

TEST(RoundOpening, FarFromABackedSheetSeesItsMean) {
    // From far away every place counts alike: the mean over the sheet, t(10 %) 18 % shorter than at the
    // middle (2.092567 and 2.544150 T1, plane-wall series in R 4.2.2); from close by it is the middle.
    Backing sheet{1, 1};
    const double T1 = 1 / (pi * pi);
    const auto level = [&](double distance_m, double t) {
        sheet.face = FaceView{distance_m, 0};
        return course_of(cut(sheet), {1}, {1}, {t * T1}).sensed_V[0];
    };
    EXPECT_NEAR(level(20, 2.092567), 0.1, 5e-4);
    EXPECT_NEAR(level(0.02, 2.544150), 0.1, 5e-4);
    EXPECT_LT(level(0.3, 2.544150), 0.099);
    sheet.face = FaceView{0, 0};
    EXPECT_FALSE(cut_sheet(sheet).ok());
    sheet.face = FaceView{0.01, 0.3};
    EXPECT_FALSE(cut_sheet(sheet).ok()) << "an opening of thirty distances";
}

TEST(RoundOpening, SeesAnEvenMapAsTheSheetOfOneDimension) {
    SheetMap map;
    map.gap_m = backed.gap_m;
    map.width_m = 0.2;
    map.surface_resistivity_ohm_sq = Eigen::ArrayXXd::Constant(40, 10, 1e11);
    map.capacitance_F_m2 = backed.capacitance_F_m2;
    map.face = FaceView{0.0125, 0.006};
    Backing strips{backed.gap_m, backed.capacitance_F_m2};
    strips.face = map.face;
    const std::vector<double> times_s{0, 0.01, 0.05, 0.1};
    const auto cells = simulate(map, {5000}, times_s, {.tolerance = 1e-7});
    ASSERT_TRUE(cells.ok());
    const Course even = course_of(cut(strips, 40), {1e11}, {5000}, times_s);
    EXPECT_LT(largest_difference(cells->sensed_V, even.sensed_V), 5000 * 1e-5);
}

RC_GTEST_PROP(RoundOpening, SharesOfAllBandsAreOne, ()) {
    const FaceView view{std::pow(10, *rc::gen::inRange(-30, 0) / 10.0), 0};
    FaceView open = view;
    open.aperture_m = view.distance_m * *rc::gen::inRange(0, 20);
    const double edge = view.distance_m * *rc::gen::inRange(-30, 30) / 10.0;
    const double far = 200 * view.distance_m;
    RC_ASSERT(std::abs(share_of_band(-far, edge, open) + share_of_band(edge, far, open) - 1) < 1e-12);
}

}  // namespace
}  // namespace ebbtide::sheet
