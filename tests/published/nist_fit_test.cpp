// Certified fits: NIST Statistical Reference Datasets (files in nist/), from the program's own starting
// values. Each certified value and standard deviation stands as the files print it.

#include <gtest/gtest.h>

#include <cmath>
#include <fstream>
#include <sstream>
#include <string>

#include "decay/law.hpp"
#include "fit/fit.hpp"
#include "support/agrees.hpp"

namespace ebbtide {
namespace {

using decay::LawKind;
using decay::Offset;
using fit::Fit;
using testing_support::agrees;

/// The data of one file: y and x from the second line that begins with "Data:" onward.
fit::CurveStore nist(const std::string& name) {
    std::ifstream file(std::string(EBBTIDE_SOURCE_DIR) + "/tests/published/nist/" + name + ".dat");
    fit::CurveStore out;
    int headings = 0;
    for (std::string line; std::getline(file, line);) {
        if (line.starts_with("Data:")) {
            ++headings;
            continue;
        }
        double y = 0, x = 0;
        std::istringstream cells(line);
        if (headings == 2 && cells >> y >> x) {
            out.y.push_back(y);
            out.x.push_back(x);
        }
    }
    return out;
}

Fit fitted(const std::string& name, LawKind kind, Offset::Kind offset) {
    const fit::CurveStore data = nist(name);
    return fit::fit(law_of(kind, {offset}), data.view(), {fit::Scatter::from_residuals});
}

double value(const Fit& fit, const std::string& name) {
    const fit::Parameter* p = fit.find(name);
    return p ? p->value : std::nan("");
}

double error(const Fit& fit, const std::string& name) {
    const fit::Parameter* p = fit.find(name);
    return p && p->standard_error ? *p->standard_error : std::nan("");
}

/// How many leading digits agree: -log10 of the relative difference.
double digits(double found, double certified) {
    if (!std::isfinite(found)) return 0;
    return found == certified ? 16 : -std::log10(std::abs(found - certified) / std::abs(certified));
}

/// The files state rates b = 1/T; the standard deviation of a rate is that of T over T squared.
double rate(const Fit& fit, const std::string& name) {
    return 1 / value(fit, name);
}
double rate_error(const Fit& fit, const std::string& name) {
    return error(fit, name) / (value(fit, name) * value(fit, name));
}

/// Nine of the eleven certified digits at least, and five of the standard deviations': the files are computed
/// in 500 bits, doubles lose the rest in forming residuals.
void expect_certified(double found, double found_error, double certified, double certified_error) {
    EXPECT_GE(digits(found, certified), 9) << found;
    EXPECT_GE(digits(found_error, certified_error), 5) << found_error;
}

TEST(CertifiedFit, OfTwoExponentialsAndAnOffset) {
    // MGH17.dat
    const Fit fit = fitted("MGH17", LawKind::two_exponentials, Offset::Kind::free);
    ASSERT_TRUE(fit.ok()) << fit.reason;
    expect_certified(value(fit, "offset_V"), error(fit, "offset_V"), 3.7541005211E-01, 2.0723153551E-03);
    expect_certified(value(fit, "amplitude_2_V"), error(fit, "amplitude_2_V"), 1.9358469127E+00,
                     2.2031669222E-01);
    expect_certified(value(fit, "amplitude_1_V"), error(fit, "amplitude_1_V"), -1.4646871366E+00,
                     2.2175707739E-01);
    expect_certified(rate(fit, "time_constant_2_s"), rate_error(fit, "time_constant_2_s"), 1.2867534640E-02,
                     4.4861358114E-04);
    expect_certified(rate(fit, "time_constant_1_s"), rate_error(fit, "time_constant_1_s"), 2.2122699662E-02,
                     8.9471996575E-04);
    EXPECT_TRUE(agrees(fit.rss, "5.4648946975E-05"));
}

TEST(CertifiedFit, OfAPowerLawWithANegativeAmplitude) {
    // Bennett5.dat: y = b1 (b2 + x)^(-1/b3), so T = b2, q = 1/b3 and V0 = b1 b2^(-q).
    const Fit fit = fitted("Bennett5", LawKind::power, Offset::Kind::stated);
    ASSERT_TRUE(fit.ok()) << fit.reason;
    const double V0 = value(fit, "amplitude_V"), T = value(fit, "time_constant_s"), q = value(fit, "power");
    const double b1 = V0 * std::pow(T, q);
    const Eigen::Vector3d by{b1 / V0, b1 * q / T, b1 * std::log(T)};  // d b1 / d (V0, T, q)
    EXPECT_GE(digits(T, 4.6736564644E+01), 9);
    EXPECT_GE(digits(1 / q, 9.3218483193E-01), 9);
    EXPECT_GE(digits(b1, -2.5235058043E+03),
              8);  // its standard deviation is 12 % of it: nearly anything fits
    EXPECT_GE(digits(error(fit, "time_constant_s"), 1.2448871856E+00), 5);
    EXPECT_GE(digits(error(fit, "power") / (q * q), 2.0272299378E-02), 5);
    EXPECT_GE(digits(std::sqrt(by.dot(fit.covariance * by)), 2.9715175411E+02), 5);
    EXPECT_TRUE(agrees(fit.rss, "5.2404744073E-04"));
}

TEST(CertifiedFit, OfThreeExponentialsWithNoiseInTheSixthDigit) {
    // Lanczos2.dat
    const Fit fit = fitted("Lanczos2", LawKind::three_exponentials, Offset::Kind::stated);
    ASSERT_TRUE(fit.ok()) << fit.reason;
    const std::string number[] = {"3", "2", "1"};
    const double amplitude[] = {9.6251029939E-02, 8.6424689056E-01, 1.5529016879E+00};
    const double amplitude_error[] = {6.6770575477E-04, 1.7185846685E-03, 2.3744381417E-03};
    const double rates[] = {1.0057332849E+00, 3.0078283915E+00, 5.0028798100E+00};
    const double rate_errors[] = {3.3989646176E-03, 4.1707005856E-03, 1.3958787284E-03};
    for (std::size_t i = 0; i < 3; ++i) {
        const std::string a = "amplitude_" + number[i] + "_V", t = "time_constant_" + number[i] + "_s";
        expect_certified(value(fit, a), error(fit, a), amplitude[i], amplitude_error[i]);
        expect_certified(rate(fit, t), rate_error(fit, t), rates[i], rate_errors[i]);
    }
    EXPECT_TRUE(agrees(fit.rss, "2.2299428125E-11", 10));  // residuals of 1e-6 keep ten digits in doubles
}

TEST(CertifiedFit, OfThreeExponentialsWithNoiseInTheFifthDigit) {
    // Lanczos3.dat
    const Fit fit = fitted("Lanczos3", LawKind::three_exponentials, Offset::Kind::stated);
    ASSERT_TRUE(fit.ok()) << fit.reason;
    const std::string number[] = {"3", "2", "1"};
    const double amplitude[] = {8.6816414977E-02, 8.4400777463E-01, 1.5825685901E+00};
    const double amplitude_error[] = {1.7197908859E-02, 4.1488663282E-02, 5.8371576281E-02};
    const double rates[] = {9.5498101505E-01, 2.9515951832E+00, 4.9863565084E+00};
    const double rate_errors[] = {9.7041624475E-02, 1.0766312506E-01, 3.4436403035E-02};
    for (std::size_t i = 0; i < 3; ++i) {
        const std::string a = "amplitude_" + number[i] + "_V", t = "time_constant_" + number[i] + "_s";
        expect_certified(value(fit, a), error(fit, a), amplitude[i], amplitude_error[i]);
        expect_certified(rate(fit, t), rate_error(fit, t), rates[i], rate_errors[i]);
    }
    EXPECT_TRUE(agrees(fit.rss, "1.6117193594E-08"));
}

TEST(CertifiedFit, OfThreeExponentialsWithoutNoiseKeepsNineDigits) {
    // Lanczos1.dat: data to fourteen digits, so the residuals are rounding and their certified standard
    // deviations mean nothing for doubles. Nine digits of every parameter are what doubles keep.
    const Fit fit = fitted("Lanczos1", LawKind::three_exponentials, Offset::Kind::stated);
    ASSERT_TRUE(fit.ok()) << fit.reason;
    EXPECT_GE(digits(value(fit, "amplitude_3_V"), 9.5100000027E-02), 9);
    EXPECT_GE(digits(value(fit, "amplitude_2_V"), 8.6070000013E-01), 9);
    EXPECT_GE(digits(value(fit, "amplitude_1_V"), 1.5575999998E+00), 9);
    EXPECT_GE(digits(rate(fit, "time_constant_3_s"), 1.0000000001E+00), 9);
    EXPECT_GE(digits(rate(fit, "time_constant_2_s"), 3.0000000002E+00), 9);
    EXPECT_GE(digits(rate(fit, "time_constant_1_s"), 5.0000000001E+00), 9);
    EXPECT_LT(fit.rss, 2e-25);
}

TEST(CertifiedFit, OfARiseThatStartsAtZero) {
    // Misra1a.dat and BoxBOD.dat: y = b1 (1 - exp(-b2 x)): the offset is minus the amplitude.
    const Fit misra = fitted("Misra1a", LawKind::exponential, Offset::Kind::minus_amplitude);
    ASSERT_TRUE(misra.ok()) << misra.reason;
    expect_certified(-value(misra, "amplitude_V"), error(misra, "amplitude_V"), 2.3894212918E+02,
                     2.7070075241E+00);
    expect_certified(rate(misra, "time_constant_s"), rate_error(misra, "time_constant_s"), 5.5015643181E-04,
                     7.2668688436E-06);
    EXPECT_TRUE(agrees(misra.rss, "1.2455138894E-01"));

    const Fit box = fitted("BoxBOD", LawKind::exponential, Offset::Kind::minus_amplitude);
    ASSERT_TRUE(box.ok()) << box.reason;
    expect_certified(-value(box, "amplitude_V"), error(box, "amplitude_V"), 2.1380940889E+02,
                     1.2354515176E+01);
    expect_certified(rate(box, "time_constant_s"), rate_error(box, "time_constant_s"), 5.4723748542E-01,
                     1.0455993237E-01);
    EXPECT_TRUE(agrees(box.rss, "1.1680088766E+03"));
}

TEST(CertifiedFit, OfAStraightLineIsTheGuidesCalibrationOfAThermometer) {
    // GUM (JCGM 100:2008) H.3: y1 = -0.1712 (0.0029), y2 = 0.00218 (0.00067), r = -0.930, b(30 C) = -0.1494
    // (0.0041). As y1 + rise * (t - 20)/10, the ten degrees held: a law knows x only beside a shape
    // parameter.
    fit::Law line;
    line.amplitudes = {"y1", "rise"};
    line.shape = {{.name = "stretch"}};
    line.evaluate = [](std::span<const double> x, std::span<const double> theta, fit::Block columns,
                       fit::Block) {
        columns.col(0).setOnes();
        for (std::size_t i = 0; i < x.size(); ++i) columns(static_cast<Eigen::Index>(i), 1) = x[i] / theta[0];
    };
    fit::CurveStore data;
    for (const double t :
         {21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511})
        data.x.push_back(t - 20);
    data.y = {-.171, -.169, -.166, -.159, -.164, -.165, -.156, -.157, -.159, -.161, -.160};
    const Fit found = fit::fit(line, data.view(), {fit::Scatter::from_residuals}, {10.0});
    ASSERT_TRUE(found.ok()) << found.reason;
    EXPECT_TRUE(agrees(value(found, "y1"), "-0.1712"));
    EXPECT_TRUE(agrees(error(found, "y1"), "0.0029"));
    EXPECT_TRUE(agrees(value(found, "rise") / 10, "0.00218"));
    EXPECT_TRUE(agrees(error(found, "rise") / 10, "0.00067"));
    EXPECT_TRUE(agrees(found.covariance(0, 1) / (error(found, "y1") * error(found, "rise")), "-0.930"));
    EXPECT_TRUE(agrees(value(found, "y1") + value(found, "rise"), "-0.1494"));
    const Eigen::Vector3d at_30{1, 1, 0};
    EXPECT_TRUE(agrees(std::sqrt(at_30.dot(found.covariance * at_30)), "0.0041"));
    EXPECT_EQ(found.find("stretch")->standing, fit::Standing::held);
}

}  // namespace
}  // namespace ebbtide
