// Draws are a function of their place, the same on every instruction set, and distributed as they say.
//
// The statistical checks run on one million draws of a fixed seed (Student's on 40,000: its exact
// distribution takes 8 us a value). Had the seed been chosen anew, each would raise a false alarm once in
// 10^4 times: 3.89 standard deviations on two sides; 2.23/sqrt(N) for Kolmogorov's distance, whose tail is 2
// exp(-2 x^2) (general knowledge); the 1 - 10^-4 quantile of chi-squared.

#include "lanes/random.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <array>
#include <bit>
#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>
#include <functional>
#include <numbers>
#include <vector>

#include "support/every_target.hpp"

namespace ebbtide::lanes {
namespace {

using test::on_every_target;

constexpr std::size_t many = 1'000'000;
constexpr Stream stream{20'261'125, 7};

std::vector<double> uniforms(std::size_t count, std::uint64_t first = 0, const Stream& from = stream) {
    std::vector<double> out(count);
    add_uniform(from, first, 1, out);
    return out;
}
std::vector<double> normals(std::size_t count, std::uint64_t first = 0, const Stream& from = stream) {
    std::vector<double> out(count);
    add_normal(from, first, 1, out);
    return out;
}
std::vector<double> students(double freedom, std::size_t count, std::uint64_t first = 0) {
    std::vector<double> out(count);
    add_students_t(stream, first, freedom, 1, out);
    return out;
}

TEST(Philox, GivesThePublishedAnswersOnEveryInstructionSet) {
    struct Answer {
        std::uint64_t first, purpose, seed;
        std::array<std::uint32_t, 4> words;
    };
    // Random123's kat_vectors, "philox4x32 10" (Salmon et al.), as several public test files repeat them.
    const std::array<Answer, 3> answers{
        {{0, 0, 0, {0x6627e8d5, 0xe169c58d, 0xbc57ac4c, 0x9b00dbd8}},
         {~0ull, ~0ull, ~0ull, {0x408f276d, 0x41c83b0e, 0xa20bc7c6, 0x6d5451fd}},
         {0x85a308d3243f6a88,
          0x0370734413198a2e,
          0x299f31d0a4093822,
          {0xd16cfe09, 0x94fdcceb, 0x5001e420, 0x24126ea1}}}};
    on_every_target([&] {
        for (const Answer& answer : answers) {
            std::array<std::uint32_t, 4> words{};
            random_words({answer.seed, answer.purpose}, answer.first, words);
            EXPECT_EQ(words, answer.words);
        }
    });
}

TEST(Philox, CountsOnAcrossItsGroups) {
    std::array<std::uint32_t, 400> run{};
    random_words(stream, 5, run);
    for (std::size_t i = 0; i < 100; ++i) {
        std::array<std::uint32_t, 4> one{};
        random_words(stream, 5 + i, one);
        for (std::size_t k = 0; k < 4; ++k) ASSERT_EQ(run[4 * i + k], one[k]) << i;
    }
}

TEST(Draws, AreTheSameToTheLastBitOnEveryInstructionSet) {
    const auto uniform = uniforms(5000, 3), normal = normals(5000, 3), student = students(2.5, 5000, 3);
    on_every_target([&] {
        EXPECT_EQ(uniforms(5000, 3), uniform);
        EXPECT_EQ(normals(5000, 3), normal);
        EXPECT_EQ(students(2.5, 5000, 3), student);
    });
}

RC_GTEST_PROP(Draws, DoNotDependOnHowTheTrialsAreCut, ()) {
    const std::size_t first = *rc::gen::inRange(0, 1000), count = *rc::gen::inRange(1, 300),
                      cut = *rc::gen::inRange<std::size_t>(0, count + 1);
    const auto pieces = [&](auto draw) {
        auto head = draw(cut, first);
        const auto tail = draw(count - cut, first + cut);
        head.insert(head.end(), tail.begin(), tail.end());
        return head == draw(count, first);
    };
    RC_ASSERT(pieces([](std::size_t n, std::uint64_t at) { return uniforms(n, at); }));
    RC_ASSERT(pieces([](std::size_t n, std::uint64_t at) { return normals(n, at); }));
    RC_ASSERT(pieces([](std::size_t n, std::uint64_t at) { return students(4, n, at); }));
}

TEST(Draws, AreAddedWithTheirScale) {
    std::vector<double> sum(100, 10.0);
    add_normal(stream, 0, -2, sum);
    const auto plain = normals(100);
    for (std::size_t i = 0; i < sum.size(); ++i) EXPECT_DOUBLE_EQ(sum[i], 10 - 2 * plain[i]);
}

TEST(Draws, AreWrittenAsTheyWouldBeAdded) {
    test::on_every_target([] {
        std::vector<double> sum(777, 10.0), written(777, std::nan(""));
        add_normal(stream, 3, -2, sum);
        draw_normal(stream, 3, 10, -2, written);
        EXPECT_EQ(written, sum);
    });
}

TEST(Draws, RefuseLessThanOneDegreeOfFreedom) {
    EXPECT_THROW((void)students(0.9, 1), std::invalid_argument);
    EXPECT_THROW((void)students(std::nan(""), 1), std::invalid_argument);
}

/// Box and Muller's two numbers, before radius and angle meet, in double precision.
struct Ingredients {
    double u, angle;
};
Ingredients ingredients(std::uint64_t trial, std::size_t per_group) {
    const std::uint64_t group = trial / per_group, slot = trial % 32;
    std::array<std::uint32_t, 4> words{};
    random_words(stream, group * 16 + slot / 2, words);
    const std::uint32_t radius = words[slot % 2], way = words[2 + slot % 2];
    const double x = -1 + static_cast<double>(way & 0x7FFFFF) * 0x1p-22;
    double angle = std::numbers::pi / 4 * x;
    if (way & 0x40000000) angle = std::numbers::pi / 2 - angle;
    if (way & 0x80000000) angle += std::numbers::pi;
    return {static_cast<double>(radius >> 1 | 1) * 0x1p-31, angle};
}

/// What rounding the uniform number does to a radius: 6e-8 of its square, and as much again for slack.
double near_nought(double radius) {
    return std::sqrt(radius * radius + 1.2e-7) - radius;
}

TEST(Normal, IsBoxAndMullersTransformToItsStatedRounding) {
    const auto draws = normals(20'000);
    for (std::size_t i = 0; i < draws.size(); ++i) {
        const Ingredients in = ingredients(i, 64);
        const double radius = std::sqrt(-2 * std::log(in.u));
        const double exact = radius * (i % 64 < 32 ? std::cos(in.angle) : std::sin(in.angle));
        ASSERT_NEAR(draws[i], exact, 3e-7 * radius + near_nought(radius)) << i;
    }
}

TEST(StudentsT, IsBaileysTransformToItsStatedRounding) {
    for (const double freedom : {1.0, 1.5, 3.0, 12.8, 1e3, 1e8}) {
        const auto draws = students(freedom, 20'000);
        for (std::size_t i = 0; i < draws.size(); ++i) {
            const Ingredients in = ingredients(i, 32);
            const double radius = std::sqrt(freedom * std::expm1(-2 / freedom * std::log(in.u)));
            // The rounding of the logarithm counts 2/v times in the power: forty-fold at one degree.
            const double share = 3e-7 * (1 + 22 / freedom);
            ASSERT_NEAR(draws[i], radius * std::cos(in.angle), share * radius + near_nought(radius))
                << i << " of " << freedom;
        }
    }
}

double correlation(const std::vector<double>& a, const std::vector<double>& b) {
    double ab = 0, aa = 0, bb = 0;
    for (std::size_t i = 0; i < a.size(); ++i) {
        ab += a[i] * b[i];
        aa += a[i] * a[i];
        bb += b[i] * b[i];
    }
    return ab / std::sqrt(aa * bb);
}

void expect_distribution(std::vector<double> draws, const std::function<double(double)>& cdf) {
    for (double& x : draws) x = cdf(x);
    std::vector<double> bins(100);
    for (const double p : draws) bins[std::min<std::size_t>(99, static_cast<std::size_t>(100 * p))] += 1;
    double chi_squared = 0;
    const double expected = static_cast<double>(draws.size()) / 100;
    for (const double count : bins) chi_squared += (count - expected) * (count - expected) / expected;
    EXPECT_LT(chi_squared, boost::math::quantile(boost::math::chi_squared(99), 1 - 1e-4));

    std::ranges::sort(draws);
    double distance = 0;
    const double n = static_cast<double>(draws.size());
    for (std::size_t i = 0; i < draws.size(); ++i)
        distance = std::max(
            {distance, static_cast<double>(i + 1) / n - draws[i], draws[i] - static_cast<double>(i) / n});
    EXPECT_LT(distance, 2.23 / std::sqrt(n));
}

TEST(Uniform, IsUniformAndNeverAnEnd) {
    const auto draws = uniforms(many);
    for (const double u : draws) ASSERT_TRUE(u > 0 && u < 1);
    expect_distribution(draws, [](double u) { return u; });
}

TEST(Normal, HasTheNormalDistribution) {
    const boost::math::normal normal;
    expect_distribution(normals(many), [&](double z) { return boost::math::cdf(normal, z); });
}

TEST(Normal, HasItsFourMoments) {
    std::array<double, 5> moment{};
    for (const double z : normals(many))
        for (int k = 1; k <= 4; ++k) moment[static_cast<std::size_t>(k)] += std::pow(z, k) / double{many};
    // Variances of the powers of a normal variable: 1, 2, 15 and 96 (its moments are 1, 3, 15, 105).
    const double unit = 3.89 / std::sqrt(double{many});
    EXPECT_NEAR(moment[1], 0, unit);
    EXPECT_NEAR(moment[2], 1, unit * std::sqrt(2.0));
    EXPECT_NEAR(moment[3], 0, unit * std::sqrt(15.0));
    EXPECT_NEAR(moment[4], 3, unit * std::sqrt(96.0));
}

TEST(Normal, ReachesAsFarAsItShould) {
    int beyond = 0;
    for (const double z : normals(4 * many)) beyond += std::abs(z) > 4;
    // P(|z| > 4) = 6.3342e-5 (Boost): 253.4 of four million, give or take 3.89 of 15.9.
    EXPECT_NEAR(beyond, 253.4, 3.89 * 15.9);
}

TEST(Normal, DrawsHaveNothingToDoWithEachOther) {
    const auto z = normals(many);
    const double unit = 3.89 / std::sqrt(double{many});
    std::vector<double> squares(many);
    for (std::size_t i = 0; i < many; ++i) squares[i] = z[i] * z[i] - 1;
    for (const std::size_t lag : {1u, 2u, 16u, 32u, 64u}) {  // 32: the two halves of one transform
        const auto later = normals(many, lag);
        std::vector<double> later_squares(many);
        for (std::size_t i = 0; i < many; ++i) later_squares[i] = later[i] * later[i] - 1;
        EXPECT_LT(std::abs(correlation(z, later)), unit) << lag;
        EXPECT_LT(std::abs(correlation(squares, later_squares)), unit) << lag;
    }
    for (const Stream& other : {Stream{stream.seed, stream.purpose + 1},
                                Stream{stream.seed + 1, stream.purpose}, Stream{stream.purpose, stream.seed}})
        EXPECT_LT(std::abs(correlation(z, normals(many, 0, other))), unit);
}

TEST(StudentsT, HasStudentsDistribution) {
    for (const double freedom : {1.0, 2.5, 7.0, 60.0}) {
        const boost::math::students_t student(freedom);
        expect_distribution(students(freedom, 100'000),
                            [&](double t) { return boost::math::cdf(student, t); });
    }
}

}  // namespace
}  // namespace ebbtide::lanes
