// Sums of evenly spaced samples against exponentials, against plain loops in long double.

#include "lanes/decay_sums.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <functional>
#include <limits>
#include <random>
#include <vector>

#include "lanes/even_spacing.hpp"
#include "lanes/stretched_sums.hpp"
#include "lanes/tier_sums.hpp"
#include "support/every_target.hpp"

namespace ebbtide::lanes {
namespace {

using test::on_every_target;

std::vector<double> fall(std::size_t count) {
    std::mt19937_64 random(20261125);
    std::normal_distribution<double> normal;
    std::vector<double> y(count);
    for (std::size_t i = 0; i < count; ++i)
        y[i] = 3 * std::exp(-0.01 * static_cast<double>(i)) + 0.2 + 0.05 * normal(random);
    return y;
}

TEST(EvenlySpaced, MeansEveryIntervalTheSame) {
    std::vector<double> x(1003);
    for (std::size_t i = 0; i < x.size(); ++i) x[i] = 7.3 + 0.001 * static_cast<double>(i);
    on_every_target([&] {
        EXPECT_TRUE(evenly_spaced(x));
        for (const std::size_t place : {1, 500, 1001}) {
            std::vector<double> other(x);
            other[place] += 1e-8 * 0.001;
            EXPECT_FALSE(evenly_spaced(other)) << place;
            other[place] = std::numeric_limits<double>::quiet_NaN();
            EXPECT_FALSE(evenly_spaced(other)) << place;
        }
        std::vector<double> gap(x);
        gap.erase(gap.begin() + 400);
        EXPECT_FALSE(evenly_spaced(gap));
        EXPECT_FALSE(evenly_spaced(std::vector<double>(100, 1.0)));
        EXPECT_FALSE(evenly_spaced(std::vector<double>{1}));
        EXPECT_FALSE(evenly_spaced(std::vector<double>{3, 2, 1}));
        EXPECT_FALSE(evenly_spaced(std::vector<double>{1, 2, std::numeric_limits<double>::infinity()}));
    });
}

TEST(MeanTiers, HoldAllSamplesButAFew) {
    for (const std::size_t count : {48, 71, 72, 100, 143, 2000, 2047, 100'003}) {
        const std::vector<double> y(count, 2.5);
        on_every_target([&] {
            MeanTiers means;
            take_means(y, 0.5, means);
            EXPECT_GT(means.samples, static_cast<double>(count) - 12);
            EXPECT_LE(means.samples, static_cast<double>(count));
            EXPECT_NEAR(means.sum, 2 * means.samples, 1e-9 * means.sum);
            EXPECT_NEAR(means.squares, 4 * means.samples, 1e-9 * means.squares);
            double next = 0;
            for (std::size_t s = 0; s < means.tiers; ++s) {
                EXPECT_EQ(means.start[s], next);
                next += static_cast<double>(MeanTiers::rows) * means.block[s];
            }
        });
    }
}

/// A column over the means, by summing samples.
std::vector<long double> column(const MeanTiers& means, const std::function<long double(long double)>& f) {
    std::vector<long double> out;
    for (std::size_t s = 0; s < means.tiers; ++s)
        for (std::size_t row = 0; row < MeanTiers::rows; ++row) {
            long double sum = 0;
            const auto block = static_cast<std::size_t>(means.block[s]);
            const auto first = static_cast<std::size_t>(means.start[s]) + row * block;
            for (std::size_t i = 0; i < block; ++i) sum += f(static_cast<long double>(first + i));
            out.push_back(sum / static_cast<long double>(block));
        }
    return out;
}

double product(const MeanTiers& means, const std::vector<long double>& a, const std::vector<long double>& b) {
    long double sum = 0;
    for (std::size_t k = 0; k < a.size(); ++k)
        sum += static_cast<long double>(means.block[k / MeanTiers::rows]) * a[k] * b[k];
    return static_cast<double>(sum);
}

std::vector<long double> mean_column(const MeanTiers& means) {
    std::vector<long double> out;
    for (std::size_t s = 0; s < means.tiers; ++s)
        for (std::size_t row = 0; row < MeanTiers::rows; ++row)
            out.push_back(means.mean[row * means.padded + s]);
    return out;
}

TEST(TierSums, AreThoseOfTheMeansOfSampledExponentials) {
    const std::vector<double> y = fall(2000);
    // Exact but for a series that is cut where little is left of the exponential; the means are for a search.
    const double tolerance = 1e-9;
    on_every_target([&] {
        MeanTiers means;
        take_means(y, 0.1, means);
        const std::vector<long double> ones(means.count, 1), seen = mean_column(means);
        for (const std::vector<double>& rates :
             {std::vector<double>{-0.5, -0.02, -0.0003}, {-0.011, -0.004}, {-0.007}}) {
            const TierSums sums = tier_sums(means, rates);
            std::vector<std::vector<long double>> phi, d;
            for (const double rate : rates) {
                phi.push_back(column(means, [&](long double i) { return std::exp(rate * i); }));
                d.push_back(column(means, [&](long double i) { return -rate * i * std::exp(rate * i); }));
            }
            const double scale = means.samples;
            for (std::size_t k = 0; k < rates.size(); ++k) {
                EXPECT_NEAR(sums.phi_one[k], product(means, phi[k], ones), tolerance * scale);
                EXPECT_NEAR(sums.d_one[k], product(means, d[k], ones), tolerance * scale);
                EXPECT_NEAR(sums.phi_y[k], product(means, phi[k], seen), tolerance * scale);
                EXPECT_NEAR(sums.d_y[k], product(means, d[k], seen), tolerance * scale);
                for (std::size_t l = 0; l < rates.size(); ++l) {
                    EXPECT_NEAR(sums.phi_phi[k][l], product(means, phi[k], phi[l]), tolerance * scale);
                    EXPECT_NEAR(sums.phi_d[k][l], product(means, phi[k], d[l]), tolerance * scale);
                    EXPECT_NEAR(sums.d_d[k][l], product(means, d[k], d[l]), tolerance * scale);
                }
            }
        }
    });
}

TEST(HalvingProducts, AreNearThoseOfTheMeans) {
    const std::vector<double> y = fall(2000);
    on_every_target([&] {
        MeanTiers means;
        take_means(y, 0, means);
        constexpr std::size_t count = 7;
        // Three samples for their middle: off by (0.1 + 0.1)^2 3^2 / 24 = 1.5 % of a product at most.
        const double near = 0.02;
        std::vector<double> products(count * count), with_one(count), with_y(count);
        halving_products(means, -0.1, count, products, with_one, with_y);
        for (std::size_t g = 0; g < count; ++g) {
            const double rate = std::ldexp(-0.1, -static_cast<int>(g));
            const TierSums own = tier_sums(means, std::vector<double>{rate});
            EXPECT_NEAR(with_one[g] / own.phi_one[0], 1, near);
            EXPECT_NEAR(with_y[g] / own.phi_y[0], 1, near);
            for (std::size_t h = g; h < count; ++h) {
                const double other = std::ldexp(-0.1, -static_cast<int>(h));
                const TierSums both = tier_sums(means, std::vector<double>{rate, other});
                EXPECT_NEAR(products[g * count + h] / both.phi_phi[0][1], 1, near);
            }
        }
    });
}

TEST(ResidualSums, AreThoseOfAPlainLoop) {
    for (const std::size_t count : {1, 7, 2000, 2003, 5001}) {
        const std::vector<double> y = fall(count);
        for (const std::size_t parts : {1, 2, 3}) {
            const DecaySum sum{parts, {-0.0101, -0.003, -0.2}, {2.9, -0.05, 0.01}, 0.21};
            long double squares = 0, plain = 0, with[3]{}, indexed[3]{};
            for (std::size_t i = 0; i < count; ++i) {
                const auto at = static_cast<long double>(i);
                long double left = y[i] - static_cast<long double>(sum.constant);
                for (std::size_t k = 0; k < parts; ++k) left -= sum.amplitude[k] * std::exp(sum.rate[k] * at);
                squares += left * left;
                plain += left;
                for (std::size_t k = 0; k < parts; ++k) {
                    with[k] += left * std::exp(sum.rate[k] * at);
                    indexed[k] += left * at * std::exp(sum.rate[k] * at);
                }
            }
            // Sums whose terms cancel are held against what the terms amount to.
            const auto n = static_cast<double>(count);
            on_every_target([&] {
                const ResidualSums got = residual_sums(y, sum), rough = residual_moments(y, sum);
                EXPECT_NEAR(got.squares, static_cast<double>(squares), 1e-13 * static_cast<double>(squares));
                EXPECT_NEAR(got.plain, static_cast<double>(plain), 1e-14 * n);
                // Of the squares of y, all below 16 here, the last digits are lost.
                EXPECT_NEAR(rough.squares, static_cast<double>(squares), 1e-14 * n);
                EXPECT_NEAR(rough.plain, static_cast<double>(plain), 1e-12 * n);
                for (std::size_t k = 0; k < parts; ++k) {
                    EXPECT_NEAR(got.with[k], static_cast<double>(with[k]), 1e-14 * n);
                    EXPECT_NEAR(got.with_index[k], static_cast<double>(indexed[k]), 1e-14 * n * n);
                    EXPECT_NEAR(rough.with[k], static_cast<double>(with[k]), 1e-12 * n);
                    EXPECT_NEAR(rough.with_index[k], static_cast<double>(indexed[k]), 1e-12 * n * n);
                }
            });
        }
    }
}

TEST(StretchedSums, OfTheMeansHaveTheCurvatureOfABlock) {
    const std::vector<double> y = fall(2000);
    on_every_target([&] {
        MeanTiers means;
        take_means(y, 0, means);
        // What is left out is of fourth order in block / t, at most 1/6 here: 1e-5 of the sums.
        for (const double first : {0.0, 3.5})
            for (const double exponent : {0.4, 1.0, 1.7}) {
                const double time = 300;
                StretchedPlaces places;
                take_places(means, first, places);
                const TierSums sums = stretched_tier_sums(means, places, std::log(time), exponent);
                const auto phi = column(means, [&](long double i) {
                    return std::exp(-std::pow((i + first) / time, static_cast<long double>(exponent)));
                });
                const std::vector<long double> ones(means.count, 1), seen = mean_column(means);
                EXPECT_NEAR(sums.phi_one[0] / product(means, phi, ones), 1, 1e-5);
                EXPECT_NEAR(sums.phi_phi[0][0] / product(means, phi, phi), 1, 1e-5);
                EXPECT_NEAR(sums.phi_y[0] / product(means, phi, seen), 1, 1e-5);
            }
    });
}

TEST(StretchedResiduals, AreThoseOfAPlainLoop) {
    for (const std::size_t count : {1, 2003}) {
        const std::vector<double> y = fall(count);
        const StretchedSum sum{std::log(110.0), 0.9, 3.1, 0.19};
        for (const double first : {0.0, 2.25}) {
            long double squares = 0, plain = 0, with = 0, by_time = 0, by_exponent = 0;
            for (std::size_t i = 0; i < count; ++i) {
                const long double t = static_cast<long double>(i) + first;
                const long double log_z =
                    static_cast<long double>(sum.exponent) * (std::log(t) - sum.log_time_constant);
                const long double z = std::exp(log_z), f = std::exp(-z);
                const long double left = y[i] - sum.constant - sum.amplitude * f;
                squares += left * left;
                plain += left;
                with += left * f;
                by_time += left * f * z * sum.exponent;
                if (t > 0) by_exponent -= left * f * z * log_z;
            }
            std::vector<double> log_t(count);
            on_every_target([&] {
                log_times(first, log_t);
                const StretchedResiduals got = stretched_residuals(y, log_t, first, sum);
                const StretchedResiduals again = stretched_residuals(y, {}, first, sum);
                const double tolerance = 1e-13 * static_cast<double>(count);
                for (const StretchedResiduals& r : {got, again}) {
                    EXPECT_NEAR(r.squares, static_cast<double>(squares), tolerance);
                    EXPECT_NEAR(r.plain, static_cast<double>(plain), tolerance);
                    EXPECT_NEAR(r.with, static_cast<double>(with), tolerance);
                    EXPECT_NEAR(r.by_time, static_cast<double>(by_time), tolerance);
                    EXPECT_NEAR(r.by_exponent, static_cast<double>(by_exponent), tolerance);
                }
            });
        }
    }
}

}  // namespace
}  // namespace ebbtide::lanes
