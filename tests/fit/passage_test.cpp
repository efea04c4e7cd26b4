#include "fit/passage.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>

namespace ebbtide::fit {
namespace {

constexpr double infinite = std::numeric_limits<double>::infinity();

TEST(PassageOfALevel, HasTheChanceOfTheNormalDistributionWhereTheNoiseIsKnown) {
    const Passage passage{.x = 2,
                          .low = 1,
                          .high = 4,
                          .shape = {{1, -1.96}, {2, 0}, {4, 1.96}},
                          .degrees_of_freedom = infinite};
    // Tables of the normal distribution: 0.025, 0.5, 0.975; half a decade of the logarithm is 0.98: 0.8365
    EXPECT_NEAR(passage.chance_before(1), 0.025, 1e-4);
    EXPECT_NEAR(passage.chance_before(2), 0.5, 1e-12);
    EXPECT_NEAR(passage.chance_before(std::sqrt(8.0)), 0.8365, 1e-4);
    EXPECT_NEAR(passage.chance_before(4), 0.975, 1e-4);
}

TEST(PassageOfALevel, HasAChanceBetweenNeighboursInTheLastDigit) {
    // A search for an end closes in until two of its places have the same logarithm.
    const double before = 9.25141098, after = std::nextafter(before, infinite);
    ASSERT_EQ(std::log(before), std::log(after));
    const Passage passage{.x = 20,
                          .low = before,
                          .high = 40,
                          .shape = {{before, -4}, {after, -4}, {20, 0}, {40, 4}},
                          .degrees_of_freedom = 30};
    for (const double x : {1.0, before, after, std::nextafter(after, infinite), 25.0, 100.0}) {
        const double chance = passage.chance_before(x);
        EXPECT_TRUE(chance >= 0 && chance <= 1) << x;
    }
}

}  // namespace
}  // namespace ebbtide::fit
