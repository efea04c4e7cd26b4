// A tally says what adding and sorting the values would say, however they arrive and on every processor.

#include "lanes/tally.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <random>
#include <vector>

#include "support/every_target.hpp"

namespace ebbtide::lanes {
namespace {

struct Told {
    double sum = 0, squares = 0;
    std::vector<double> kept;

    bool operator==(const Told&) const = default;
};

/// `values` in pieces of `piece`, with those of at most `low` and of at least `high` kept in order.
Told tally_of(const std::vector<double>& values, std::size_t piece, double low, double high) {
    Told out;
    out.kept.resize(values.size() + 4);
    Tally tally;
    tally.low = low;
    tally.high = high;
    tally.kept = out.kept.data();
    for (std::size_t at = 0; at < values.size(); at += piece)
        count_in(std::span(values).subspan(at, std::min(piece, values.size() - at)), tally);
    out.kept.resize(static_cast<std::size_t>(tally.kept - out.kept.data()));
    std::ranges::sort(out.kept);
    for (std::size_t k = 0; k < 4; ++k) {
        out.sum += tally.sum[k];
        out.squares += tally.squares[k];
    }
    return out;
}

std::vector<double> normal_values(std::size_t count) {
    std::mt19937_64 random(20'261'125);
    std::normal_distribution<double> normal;
    std::vector<double> out(count);
    for (double& value : out) value = normal(random);
    return out;
}

RC_GTEST_PROP(Tally, KeepsWhatLiesAtOrBeyondABound, ()) {
    // Whole numbers, so that many lie exactly at a bound and sums have no rounding.
    const auto whole = *rc::gen::container<std::vector<int>>(rc::gen::inRange(-20, 20));
    const std::size_t piece = *rc::gen::inRange<std::size_t>(1, 20);
    const int low = *rc::gen::inRange(-20, 20), high = *rc::gen::inRange(-20, 20);
    Told told;
    for (const int value : whole) {
        told.sum += value;
        told.squares += value * value;
        if (value <= low || value >= high) told.kept.push_back(value);
    }
    std::ranges::sort(told.kept);
    RC_ASSERT(tally_of({whole.begin(), whole.end()}, piece, low, high) == told);
}

TEST(Tally, IsTheSameToTheLastBitOnEveryInstructionSet) {
    const auto values = normal_values(10'003);
    const Told here = tally_of(values, 2048, -1.7, 1.8);
    test::on_every_target([&] { EXPECT_EQ(tally_of(values, 2048, -1.7, 1.8), here); });
}

TEST(Tally, TakesItsSumsAboutTheShift) {
    // 10^9 + {1, 2, 3}: of the squares themselves nothing would be left.
    const std::vector<double> values{1e9 + 1, 1e9 + 2, 1e9 + 3};
    std::vector<double> kept(8);
    Tally tally;
    tally.shift = 1e9 + 2;
    tally.low = -1;
    tally.high = std::numeric_limits<double>::infinity();
    tally.kept = kept.data();
    count_in(values, tally);
    EXPECT_EQ(tally.sum[0] + tally.sum[1] + tally.sum[2] + tally.sum[3], 0);
    EXPECT_EQ(tally.squares[0] + tally.squares[1] + tally.squares[2] + tally.squares[3], 2);
    EXPECT_EQ(tally.kept, kept.data());
}

TEST(Tally, HidesNothingThatIsNotANumber) {
    test::on_every_target([] {
        for (std::size_t place = 0; place < 11; ++place) {
            auto values = normal_values(11);
            values[place] = std::nan("");
            const Told told = tally_of(values, 11, -10, 10);
            EXPECT_TRUE(std::isnan(told.sum)) << place;
            EXPECT_TRUE(told.kept.empty()) << place;
        }
    });
}

}  // namespace
}  // namespace ebbtide::lanes
