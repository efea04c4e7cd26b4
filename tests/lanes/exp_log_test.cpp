// Against the C++ standard library in long double, rounded once.

#include "lanes/exp_log.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <random>
#include <vector>

#include "support/every_target.hpp"

namespace ebbtide::lanes {
namespace {

using test::on_every_target;

constexpr double infinite = std::numeric_limits<double>::infinity();
const double nothing = std::numeric_limits<double>::quiet_NaN();

std::vector<double> exps(const std::vector<double>& numbers) {
    std::vector<double> out(numbers.size(), -1);
    exp_all(numbers, out);
    return out;
}
std::vector<double> logs(const std::vector<double>& numbers) {
    std::vector<double> out(numbers.size(), -1);
    log_all(numbers, out);
    return out;
}

/// In units in the last place of the wanted number.
double ulps(double got, long double wanted) {
    const double rounded = std::abs(static_cast<double>(wanted));
    const double place = std::nextafter(rounded, infinite) - rounded;
    return static_cast<double>(std::abs(static_cast<long double>(got) - wanted) /
                               static_cast<long double>(place));
}

TEST(ExpAll, IsWithinTwoUnitsInTheLastPlaceOnEveryInstructionSet) {
    std::mt19937_64 random(20261125);
    std::vector<double> numbers;
    for (const double reach : {1e-12, 0.3, 3.0, 40.0, 700.0}) {
        std::uniform_real_distribution<double> uniform(-reach, reach);
        for (int i = 0; i < 20'000; ++i) numbers.push_back(uniform(random));
    }
    on_every_target([&] {
        const std::vector<double> got = exps(numbers);
        double worst = 0;
        for (std::size_t i = 0; i < numbers.size(); ++i)
            worst = std::max(worst, ulps(got[i], std::exp(static_cast<long double>(numbers[i]))));
        EXPECT_LT(worst, 2);
    });
}

TEST(ExpAll, KnowsTheEndsOfItsRange) {
    on_every_target([] {
        const std::vector<double> got =
            exps({0.0, -0.0, -700.5, -1e300, -infinite, 709.0, 709.9, 1e300, infinite, nothing});
        EXPECT_EQ(got[0], 1);
        EXPECT_EQ(got[1], 1);
        for (const std::size_t i : {2, 3, 4}) EXPECT_EQ(got[i], 0) << i;
        EXPECT_LT(ulps(got[5], std::exp(709.0L)), 2);
        for (const std::size_t i : {6, 7, 8}) EXPECT_EQ(got[i], infinite) << i;
        EXPECT_TRUE(std::isnan(got[9]));
    });
}

TEST(LogAll, IsWithinTwoUnitsInTheLastPlaceOnEveryInstructionSet) {
    std::mt19937_64 random(20261125);
    std::vector<double> numbers{1, 2, 0.5, std::numeric_limits<double>::min(),
                                std::numeric_limits<double>::max()};
    for (const double decades : {0.001, 0.3, 3.0, 300.0}) {
        std::uniform_real_distribution<double> uniform(-decades, decades);
        for (int i = 0; i < 20'000; ++i) numbers.push_back(std::pow(10, uniform(random)));
    }
    on_every_target([&] {
        const std::vector<double> got = logs(numbers);
        EXPECT_EQ(got[0], 0);
        double worst = 0;
        for (std::size_t i = 1; i < numbers.size(); ++i)
            worst = std::max(worst, ulps(got[i], std::log(static_cast<long double>(numbers[i]))));
        EXPECT_LT(worst, 2);
    });
}

TEST(LogAll, KnowsTheEndsOfItsRange) {
    on_every_target([] {
        const std::vector<double> got = logs({0.0, -0.0, 1e-310, -1.0, -infinite, infinite, nothing});
        for (const std::size_t i : {0, 1, 2}) EXPECT_EQ(got[i], -infinite) << i;
        for (const std::size_t i : {3, 4, 6}) EXPECT_TRUE(std::isnan(got[i])) << i;
        EXPECT_EQ(got[5], infinite);
    });
}

TEST(ExpAll, DoesTheSameToANumberWhateverItsNeighbours) {
    std::vector<double> numbers(100);
    for (std::size_t i = 0; i < numbers.size(); ++i) numbers[i] = 3 - 0.37 * static_cast<double>(i);
    on_every_target([&] {
        const std::vector<double> together = exps(numbers);
        for (std::size_t length = 0; length < 20; ++length)
            for (std::size_t first = 0; first + length <= 40; ++first) {
                std::vector<double> part(numbers.begin() + static_cast<std::ptrdiff_t>(first),
                                         numbers.begin() + static_cast<std::ptrdiff_t>(first + length));
                exp_all(part, part);
                EXPECT_TRUE(std::equal(part.begin(), part.end(),
                                       together.begin() + static_cast<std::ptrdiff_t>(first)));
            }
    });
}

}  // namespace
}  // namespace ebbtide::lanes
