#include "fit/robust.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <fstream>
#include <random>
#include <sstream>

#include "support/agrees.hpp"

namespace ebbtide::fit {
namespace {

using testing_support::agrees;

Law exponential() {
    Law law;
    law.name = "exponential";
    law.amplitudes = {"amplitude"};
    law.shape = {{.name = "time_constant"}};
    law.slopes = {{0, 0}};
    law.evaluate = [](std::span<const double> x, std::span<const double> theta, Block columns, Block slopes) {
        for (std::size_t i = 0; i < x.size(); ++i) {
            const auto row = static_cast<Eigen::Index>(i);
            columns(row, 0) = std::exp(-x[i] / theta[0]);
            if (slopes.cols() > 0) slopes(row, 0) = x[i] / theta[0] * columns(row, 0);
        }
    };
    return law;
}

/// The shape parameter, held at 1, is the unit in which x counts.
Law straight_line() {
    Law law;
    law.name = "line";
    law.amplitudes = {"slope", "intercept"};
    law.shape = {{.name = "unit"}};
    law.evaluate = [](std::span<const double> x, std::span<const double> theta, Block columns, Block) {
        for (std::size_t i = 0; i < x.size(); ++i) {
            columns(static_cast<Eigen::Index>(i), 0) = x[i] / theta[0];
            columns(static_cast<Eigen::Index>(i), 1) = 1;
        }
    };
    return law;
}

CurveStore noisy_fall(std::uint64_t seed, int samples = 500) {
    std::mt19937_64 random(seed);
    std::normal_distribution<double> normal;
    CurveStore out;
    for (int i = 0; i < samples; ++i) {
        out.x.push_back(5.0 * i / samples);
        out.y.push_back(1000 * std::exp(-out.x.back()) + 10 * normal(random));
    }
    return out;
}

const Spread own{Scatter::from_residuals};

double time_constant(const Fit& fit) {
    return fit.find("time_constant")->value;
}

TEST(RobustFit, WithoutSpikesIsLeastSquaresToTheLastBit) {
    // A trace in a hundred may lose a sample by chance; of 100 more than four do with a chance of 0.004.
    int lost = 0;
    for (std::uint64_t seed = 1; seed <= 100; ++seed) {
        const CurveStore curve = noisy_fall(seed);
        const RobustFit robust = fit_robust(exponential(), curve.view(), own);
        lost += !robust.lost.empty();
        if (!robust.lost.empty()) continue;
        EXPECT_EQ(time_constant(robust.fit), time_constant(fit(exponential(), curve.view(), own)));
    }
    EXPECT_LE(lost, 4);
}

TEST(RobustFit, FindsEverySpikeOfTwentySigmaAndNoneElse) {
    CurveStore curve = noisy_fall(7);
    const double clean = time_constant(fit(exponential(), curve.view(), own));
    const double u = *fit(exponential(), curve.view(), own).find("time_constant")->standard_error;
    std::vector<std::size_t> hit;
    for (std::size_t i = 4; i < 500; i += 33) {  // 16 of 500: 3 %, some of them while it falls fast
        curve.y[i] += 200;
        hit.push_back(i);
    }
    const RobustFit robust = fit_robust(exponential(), curve.view(), own);
    EXPECT_EQ(robust.lost, hit);
    EXPECT_LT(std::abs(time_constant(robust.fit) - clean), 0.5 * u);
    // The study must be able to fail: least squares is off by several standard errors.
    EXPECT_GT(std::abs(time_constant(fit(exponential(), curve.view(), own)) - clean), 2 * u);
}

TEST(RobustFit, NamesSpikesByTheirPlaceInTheCurveAsGiven) {
    CurveStore curve = noisy_fall(3);
    curve.y[10] -= 300;
    curve.y[400] += 300;
    std::ranges::reverse(curve.x);
    std::ranges::reverse(curve.y);
    const RobustFit robust = fit_robust(exponential(), curve.view(), own);
    EXPECT_EQ(robust.lost, (std::vector<std::size_t>{99, 489}));
    EXPECT_EQ(without(curve.view(), robust.lost).x.size(), 498U);
}

TEST(RobustFit, KeepsTheSamplesOfACurveThatFollowsAnotherLaw) {
    // Two exponentials under 0.3 % noise: what one leaves is a wave of 30 times the noise, not spikes.
    CurveStore curve = noisy_fall(5, 2000);
    std::mt19937_64 random(5);
    std::normal_distribution<double> normal;
    for (std::size_t i = 0; i < curve.x.size(); ++i)
        curve.y[i] = 500 * std::exp(-curve.x[i] / 0.3) + 500 * std::exp(-curve.x[i] / 2) + 3 * normal(random);
    EXPECT_TRUE(fit_robust(exponential(), curve.view(), own).lost.empty());
}

TEST(RobustFit, DoesNotTakeTheRecordersStepForSpikes) {
    // Nothing but the step: most of the tail reads exactly zero, so the median residual is next to nothing.
    CurveStore curve;
    for (int i = 0; i < 1000; ++i) {
        curve.x.push_back(0.02 * i);
        curve.y.push_back(std::round(100 * std::exp(-curve.x.back())));
    }
    EXPECT_TRUE(fit_robust(exponential(), curve.view(), own).lost.empty());
}

TEST(RobustFit, LeavesManyFarSamplesToLeastSquares) {
    CurveStore curve = noisy_fall(9);
    for (std::size_t i = 0; i < 500; i += 4) curve.y[i] += 400;
    const RobustFit robust = fit_robust(exponential(), curve.view(), own);
    EXPECT_TRUE(robust.lost.empty());
    EXPECT_EQ(time_constant(robust.fit), time_constant(fit(exponential(), curve.view(), own)));
}

TEST(RobustFit, RefusesWhatFitRefuses) {
    const CurveStore bad{{0, 1, 2, 3}, {1, std::nan(""), 0.3, 0.1}, {}};
    EXPECT_EQ(fit_robust(exponential(), bad.view(), own).fit.outcome, Outcome::bad_samples);
    EXPECT_EQ(fit_robust(exponential(), {}, own).fit.outcome, Outcome::too_few_samples);
}

TEST(RobustFit, GivesCertifiedFiguresFromCertifiedDataWithGrossErrorsAdded) {
    // NIST StRD Misra1a.dat with two readings more, 20 off where the residual standard deviation is 0.1.
    std::ifstream file(std::string(EBBTIDE_SOURCE_DIR) + "/src/validation/nist/Misra1a.dat");
    CurveStore data;
    int headings = 0;
    for (std::string line; std::getline(file, line);) {
        headings += line.starts_with("Data:");
        double y = 0, x = 0;
        std::istringstream cells(line);
        if (headings == 2 && cells >> y >> x) {
            data.y.push_back(y);
            data.x.push_back(x);
        }
    }
    ASSERT_EQ(data.x.size(), 14U);
    data.x.insert(data.x.end(), {250, 500});
    data.y.insert(data.y.end(), {51, 37});
    const RobustFit robust = fit_robust(with_offset_minus_amplitude(exponential()), data.view(), own);
    EXPECT_EQ(robust.lost, (std::vector<std::size_t>{14, 15}));
    // Misra1a.dat, certified: b1 and its standard deviation; b2 is the rate
    EXPECT_TRUE(agrees(-robust.fit.find("amplitude")->value, "2.3894212918E+02"));
    EXPECT_TRUE(agrees(*robust.fit.find("amplitude")->standard_error, "2.7070075E+00"));
    EXPECT_TRUE(agrees(1 / time_constant(robust.fit), "5.5015643181E-04"));
}

// Hogg, Bovy and Lang, "Data analysis recipes: fitting a model to data" (2010), table 1: x, y, sigma of y.
const CurveStore recipes{
    {201, 244, 47, 287, 203, 58, 210, 202, 198, 158, 165, 201, 157, 131, 166, 160, 186, 125, 218, 146},
    {592, 401, 583, 402, 495, 173, 479, 504, 510, 416, 393, 442, 317, 311, 400, 337, 423, 334, 533, 344},
    {61, 25, 38, 15, 21, 15, 27, 14, 30, 16, 14, 25, 52, 16, 34, 31, 42, 26, 16, 22}};

TEST(Weights, OfStatedSigmaGiveThePublishedLineAndErrors) {
    const std::vector<std::size_t> first_four{0, 1, 2, 3};
    const CurveStore kept = without(recipes.view(), first_four);
    const Fit line = fit(straight_line(), kept.view(), {Scatter::stated}, {1.0});
    // The same paper, exercise 1: slope 2.24 +- 0.11, intercept 34 +- 18 (figures from memory, data seen)
    EXPECT_TRUE(agrees(line.find("slope")->value, "2.24"));
    EXPECT_TRUE(agrees(*line.find("slope")->standard_error, "0.11"));
    EXPECT_TRUE(agrees(line.find("intercept")->value, "34"));
    EXPECT_TRUE(agrees(*line.find("intercept")->standard_error, "18"));
    // Only in proportion: the same line, errors wider by the root of chi square over degrees of freedom.
    const Fit relative = fit(straight_line(), kept.view(), own, {1.0});
    EXPECT_DOUBLE_EQ(relative.find("slope")->value, line.find("slope")->value);
    EXPECT_NEAR(*relative.find("slope")->standard_error / *line.find("slope")->standard_error,
                std::sqrt(line.rss / 14), 1e-12);
}

}  // namespace
}  // namespace ebbtide::fit
