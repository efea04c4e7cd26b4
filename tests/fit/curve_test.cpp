#include "fit/curve.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <numeric>

namespace ebbtide::fit {
namespace {

TEST(BlockMeans, CarryTheWeightOfTheirPoints) {
    CurveStore all;
    for (int i = 0; i < 10000; ++i) {
        all.x.push_back(0.001 * i);
        all.y.push_back(3 - 0.001 * i);
        all.sigma.push_back(i < 5000 ? 0.1 : 0.2);
    }
    const CurveStore means = block_means(all.view());
    EXPECT_LT(means.x.size(), 250u);
    const auto weight = [](double sum, double sigma) { return sum + 1 / (sigma * sigma); };
    EXPECT_NEAR(std::accumulate(means.sigma.begin(), means.sigma.end(), 0.0, weight), 5000 * 100 + 5000 * 25,
                1e-6);
    for (std::size_t i = 0; i < means.x.size(); ++i)
        EXPECT_NEAR(means.y[i], 3 - means.x[i], 1e-12);  // a line keeps its mean
}

TEST(BlockMeans, GrowWithTheLogarithmOfTheLengthOnly) {
    CurveStore all;
    for (int i = 0; i < 1000000; ++i) {
        all.x.push_back(i);
        all.y.push_back(1);
    }
    EXPECT_LT(block_means(all.view()).x.size(), 300u);
}

TEST(BlockMeans, LeaveFewPointsAsTheyAre) {
    CurveStore few{{1, 2, 3}, {4, 5, 6}, {}};
    const CurveStore means = block_means(few.view());
    EXPECT_EQ(means.x, few.x);
    EXPECT_EQ(means.y, few.y);
    EXPECT_TRUE(means.sigma.empty());
}

TEST(PointsInOrder, TakeTheirSigmaWithThem) {
    const CurveStore mixed{{3, 1, 2}, {30, 10, 20}, {0.3, 0.1, 0.2}};
    const CurveStore ordered = sorted(mixed.view());
    EXPECT_EQ(ordered.x, (std::vector<double>{1, 2, 3}));
    EXPECT_EQ(ordered.y, (std::vector<double>{10, 20, 30}));
    EXPECT_EQ(ordered.sigma, (std::vector<double>{0.1, 0.2, 0.3}));
}

}  // namespace
}  // namespace ebbtide::fit
