#include "fit/triangle.hpp"

#include <gtest/gtest.h>

#include <Eigen/Dense>
#include <cmath>
#include <random>

#include "fit/projection.hpp"

namespace ebbtide::fit {
namespace {

/// amplitude * exp(-x/T) + offset.
Law falling() {
    Law law;
    law.amplitudes = {"amplitude"};
    law.shape = {{.name = "T"}};
    law.slopes = {{0, 0}};
    law.evaluate = [](std::span<const double> x, std::span<const double> theta, Block columns, Block slopes) {
        for (std::size_t i = 0; i < x.size(); ++i) {
            const auto row = static_cast<Eigen::Index>(i);
            columns(row, 0) = std::exp(-x[i] / theta[0]);
            if (slopes.cols() > 0) slopes(row, 0) = columns(row, 0) * x[i] / theta[0];
        }
    };
    return with_free_offset(law, "offset");
}

CurveStore noisy(std::size_t count) {
    std::mt19937_64 random(7);
    std::normal_distribution<double> normal;
    CurveStore out;
    for (std::size_t i = 0; i < count; ++i) {
        out.x.push_back(0.01 * static_cast<double>(i));
        out.y.push_back(2 * std::exp(-out.x.back()) + 0.3 + 0.1 * normal(random));
        out.sigma.push_back(0.05 + 0.001 * static_cast<double>(i % 7));
    }
    return out;
}

TEST(Triangle, HoldsAllInnerProductsOfTheRows) {
    const Law law = falling();
    const CurveStore curve = noisy(1000);  // several blocks, the last one short
    const Problem problem(law, curve.view());
    const std::vector<double> theta{0.8};
    Eigen::MatrixXd rows(1000, 4);
    problem.for_each_block(theta, true, [&](Block block, std::size_t first) {
        rows.middleRows(static_cast<Eigen::Index>(first), block.rows()) = block;
    });
    const Small triangle = problem.reduce(theta);
    const Eigen::MatrixXd difference = triangle.transpose() * triangle - rows.transpose() * rows;
    EXPECT_LT(difference.cwiseAbs().maxCoeff(), 1e-12 * rows.squaredNorm());
    EXPECT_TRUE(Eigen::MatrixXd(triangle).isUpperTriangular());
}

TEST(Projection, IsTheLeastSquaresSolution) {
    const Law law = falling();
    const CurveStore curve = noisy(500);
    const Problem problem(law, curve.view());
    const std::vector<double> theta{0.8};
    Eigen::MatrixXd rows(500, 4);
    problem.for_each_block(theta, true, [&](Block block, std::size_t first) {
        rows.middleRows(static_cast<Eigen::Index>(first), block.rows()) = block;
    });
    const Eigen::VectorXd solved = rows.leftCols(2).colPivHouseholderQr().solve(rows.col(3));
    const Eigen::VectorXd left = rows.col(3) - rows.leftCols(2) * solved;
    const Projection at = project(law, problem.reduce(theta));
    ASSERT_TRUE(at.usable);
    EXPECT_NEAR(at.amplitude(0), solved(0), 1e-12);
    EXPECT_NEAR(at.amplitude(1), solved(1), 1e-12);
    EXPECT_NEAR(at.rss, left.squaredNorm(), 1e-12 * left.squaredNorm());
}

TEST(Projection, KnowsTheSlopeOfTheSumOfSquares) {
    // d rss / d log T = -2 J^T r, against a difference quotient; also with an amplitude held.
    const Law law = falling();
    const CurveStore curve = noisy(500);
    const Problem problem(law, curve.view());
    for (const HeldAmplitudes& held : {HeldAmplitudes{}, HeldAmplitudes{std::nullopt, 0.1}}) {
        const auto rss_at = [&](double log_T) {
            return project(law, problem.reduce(std::vector<double>{std::exp(log_T)}), held).rss;
        };
        const Projection at = project(law, problem.reduce(std::vector<double>{0.8}), held);
        const double h = 1e-5, middle = std::log(0.8);
        const double slope = (rss_at(middle + h) - rss_at(middle - h)) / (2 * h);
        EXPECT_NEAR(-2 * at.jacobian.col(0).dot(at.residual) / slope, 1, 1e-7);
    }
}

TEST(Projection, RefusesColumnsThatSayTheSame) {
    Law law = falling();
    law = with_free_offset(law, "another offset");
    const CurveStore curve = noisy(100);
    const Problem problem(law, curve.view());
    EXPECT_FALSE(project(law, problem.reduce(std::vector<double>{0.8})).usable);
}

}  // namespace
}  // namespace ebbtide::fit
