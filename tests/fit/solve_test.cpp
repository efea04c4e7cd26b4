// The quick way against the general one: the same answers, and nothing where it cannot be sure.

#include "fit/solve.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>
#include <sys/resource.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <random>

#include "fit/fit.hpp"

namespace ebbtide::fit {
namespace {

constexpr std::uint64_t seed_base = 20261125;

Law exponentials(std::size_t count, bool offset) {
    Law law;
    law.form = Form::exponentials;
    law.interchangeable = count > 1;
    for (std::size_t k = 0; k < count; ++k) {
        law.amplitudes.push_back("a" + std::to_string(k));
        law.shape.push_back({.name = "T" + std::to_string(k)});
        law.slopes.push_back({k, k});
    }
    law.evaluate = [](std::span<const double> x, std::span<const double> theta, Block columns, Block slopes) {
        for (std::size_t k = 0; k < theta.size(); ++k)
            for (std::size_t i = 0; i < x.size(); ++i) {
                const auto row = static_cast<Eigen::Index>(i), column = static_cast<Eigen::Index>(k);
                columns(row, column) = std::exp(-x[i] / theta[k]);
                if (slopes.cols() > 0) slopes(row, column) = columns(row, column) * x[i] / theta[k];
            }
    };
    return offset ? with_free_offset(law, "offset") : law;
}

Law stretched(bool offset) {
    Law law;
    law.form = Form::stretched;
    law.amplitudes = {"a"};
    law.shape = {{.name = "T"},
                 {.name = "b",
                  .scales_with_x = false,
                  .grid_low = 0.15,
                  .grid_high = 3,
                  .lowest = 0.01,
                  .highest = 20}};
    law.slopes = {{0, 0}, {0, 1}};
    law.from_zero = true;
    law.evaluate = [](std::span<const double> x, std::span<const double> theta, Block columns, Block slopes) {
        for (std::size_t i = 0; i < x.size(); ++i) {
            const auto row = static_cast<Eigen::Index>(i);
            const double log_ratio = x[i] > 0 ? std::log(x[i] / theta[0]) : 0;
            const double z = x[i] > 0 ? std::exp(theta[1] * log_ratio) : 0;
            columns(row, 0) = std::exp(-z);
            if (slopes.cols() == 0) continue;
            const double steep = z < 700 ? z * columns(row, 0) : 0;
            slopes(row, 0) = theta[1] * steep;
            slopes(row, 1) = -theta[1] * log_ratio * steep;
        }
    };
    return offset ? with_free_offset(law, "offset") : law;
}

Law without_form(Law law) {
    law.form = Form::other;
    return law;
}

CurveStore curve_of(const Law& law, const std::vector<double>& amplitudes, const std::vector<double>& shape,
                    std::size_t count, double length) {
    CurveStore out;
    for (std::size_t i = 0; i < count; ++i)
        out.x.push_back(length * static_cast<double>(i) / static_cast<double>(count));
    out.y = values_of(law, amplitudes, shape, out.x);
    return out;
}

/// Noise of a standard deviation of which a part remembers its neighbours.
void add_noise(CurveStore& curve, double noise, double band, std::mt19937_64& random) {
    std::normal_distribution<double> normal;
    double carried = normal(random);
    for (double& y : curve.y) {
        y += noise * (std::sqrt(1 - band * band) * normal(random) + band * carried);
        carried = 0.8 * carried + 0.6 * normal(random);
    }
}

struct Trace {
    Law law;
    CurveStore curve;
};

/// One or two exponentials, in every third trace the hard pairs (1.5 to 3 apart, 1 % noise), a few threes,
/// and stretched ones; with offset or without; some noise band-limited.
Trace trace_of(std::uint64_t trial) {
    std::mt19937_64 random(seed_base + trial);
    std::uniform_real_distribution<double> uniform;
    const auto between = [&](double low, double high) { return low * std::pow(high / low, uniform(random)); };
    const bool offset = uniform(random) < 0.6;
    const std::size_t count = 100 + static_cast<std::size_t>(1900 * uniform(random));
    const double length = 6;
    double noise = between(1e-4, 5e-2);
    std::vector<double> shape, amplitudes;
    Trace out;
    if (trial % 4 == 3) {
        out.law = stretched(offset);
        shape = {between(0.1, 3), 0.3 + 1.2 * uniform(random)};
        amplitudes = {1};
    } else {
        const bool hard = trial % 3 == 0;
        const std::size_t parts = hard ? 2 : trial % 20 == 1 ? 3 : 1 + trial % 2;
        out.law = exponentials(parts, offset);
        double constant = between(0.1, 1);
        for (std::size_t k = 0; k < parts; ++k) {
            shape.push_back(constant);
            constant *= hard ? 1.5 + 1.5 * uniform(random) : 1.5 + 4 * uniform(random);
            amplitudes.push_back((hard || uniform(random) < 0.8 ? 1 : -1) * (0.3 + uniform(random)));
        }
        if (hard) noise = 0.01;
    }
    if (offset) amplitudes.push_back(0.3 * uniform(random));
    out.curve = curve_of(out.law, amplitudes, shape, count, length);
    add_noise(out.curve, noise, trial % 5 == 4 ? 0.9 : 0, random);
    return out;
}

TEST(QuickWay, EndsWhereTheGeneralOneDoes) {
    int trusted = 0;
    constexpr int trials = 240;
    for (std::uint64_t trial = 0; trial < trials; ++trial) {
        const Trace trace = trace_of(trial);
        const Solution quick = solve(trace.law, trace.curve.view(), Way::fast);
        if (!quick.ok()) continue;
        ++trusted;
        EXPECT_TRUE(quick.fast);
        const Spread own{Scatter::from_residuals};
        const Fit fast = fit(trace.law, trace.curve.view(), own);
        const Fit general = fit(without_form(trace.law), trace.curve.view(), own);
        ASSERT_TRUE(fast.ok() && general.ok()) << trial;
        EXPECT_NEAR(quick.rss / general.rss, 1, 1e-8) << trial;
        EXPECT_NEAR(fast.rss / general.rss, 1, 1e-9) << trial;
        for (std::size_t p = 0; p < fast.parameters.size(); ++p) {
            const double error = general.parameters[p].standard_error.value_or(0);
            EXPECT_NEAR(fast.parameters[p].value, general.parameters[p].value, 1e-6 * error)
                << trial << " " << general.parameters[p].name;
            const double found =
                p < quick.amplitudes.size() ? quick.amplitudes[p] : quick.shape[p - quick.amplitudes.size()];
            // 1e-8 of the sum of squares is 1e-4 sqrt(n) standard errors at most.
            EXPECT_NEAR(found, general.parameters[p].value, 5e-3 * error)
                << trial << " " << general.parameters[p].name;
        }
    }
    // The others are records in which the parts are hardly told apart.
    EXPECT_GE(trusted, trials / 2);
}

TEST(QuickWay, FindsTheTruthOfACleanCurve) {
    for (const bool offset : {true, false}) {
        const auto expect_truth = [&](const Law& law, std::vector<double> amplitudes,
                                      const std::vector<double>& shape) {
            if (offset) amplitudes.push_back(0.05);
            const CurveStore curve = curve_of(law, amplitudes, shape, 2000, 6);
            const Solution found = solve(law, curve.view(), Way::fast);
            ASSERT_TRUE(found.ok()) << shape.size();
            for (std::size_t k = 0; k < shape.size(); ++k) EXPECT_NEAR(found.shape[k] / shape[k], 1, 1e-11);
            for (std::size_t k = 0; k < amplitudes.size(); ++k)
                EXPECT_NEAR(found.amplitudes[k], amplitudes[k], 1e-11);
            EXPECT_LT(found.rss, 1e-26);
        };
        expect_truth(exponentials(1, offset), {0.8}, {1.1});
        expect_truth(exponentials(2, offset), {0.6, 0.5}, {0.25, 1.3});
        expect_truth(stretched(offset), {0.9}, {0.9, 0.6});
    }
}

TEST(QuickWay, TakesNearlyAllPairsThatLieCloseAndMissesNoBottom) {
    // Some 1.5 to 3 standard errors apart in every tenth fall: what is trusted there must still be the
    // lowest.
    const Law law = exponentials(2, true);
    int trusted = 0;
    constexpr int trials = 60;
    for (std::uint64_t trial = 0; trial < trials; ++trial) {
        std::mt19937_64 random(seed_base + 1000 + trial);
        std::uniform_real_distribution<double> uniform;
        const double slow = 0.9 + 0.6 * uniform(random), share = 0.3 + 0.4 * uniform(random);
        CurveStore curve =
            curve_of(law, {share, 1 - share, 0.02}, {slow / (1.5 + 1.5 * uniform(random)), slow}, 2000, 6);
        add_noise(curve, 0.01, 0, random);
        const Solution quick = solve(law, curve.view(), Way::fast);
        if (!quick.ok()) continue;
        ++trusted;
        EXPECT_LE(quick.rss / solve(law, curve.view(), Way::general).rss, 1 + 1e-8) << trial;
    }
    EXPECT_GE(trusted, trials * 9 / 10);
}

TEST(QuickWay, IsNotTakenForPointsOfAnotherKind) {
    const Law law = exponentials(2, true);
    CurveStore curve = curve_of(law, {0.6, 0.5, 0.05}, {0.25, 1.3}, 2000, 6);
    std::mt19937_64 random(seed_base);
    add_noise(curve, 0.005, 0, random);
    const Solution even = solve(law, curve.view());
    ASSERT_TRUE(even.fast);

    CurveStore weighted(curve);
    weighted.sigma.assign(curve.x.size(), 0.5);
    const Solution by_weight = solve(law, weighted.view());
    EXPECT_FALSE(by_weight.fast);
    EXPECT_NEAR(by_weight.rss * 0.25 / even.rss, 1, 1e-8);
    const Solution polished = solve(law, curve.view(), Way::general);
    for (std::size_t k = 0; k < 2; ++k) EXPECT_NEAR(by_weight.shape[k] / polished.shape[k], 1, 1e-8);

    // One sample of 2,000 carries some 1/2000 of what is known: it moves nothing by a tenth of its error.
    CurveStore gap(curve);
    gap.x.erase(gap.x.begin() + 700);
    gap.y.erase(gap.y.begin() + 700);
    const Solution without_one = solve(law, gap.view());
    EXPECT_FALSE(without_one.fast);
    const Fit errors = fit(law, curve.view(), {Scatter::from_residuals});
    for (std::size_t k = 0; k < 2; ++k)
        EXPECT_NEAR(without_one.shape[k], even.shape[k], 0.1 * *errors.parameters[3 + k].standard_error);
    EXPECT_FALSE(solve(law, {curve.x, curve.y, weighted.sigma}, Way::fast).ok());
    EXPECT_FALSE(solve(without_form(law), curve.view(), Way::fast).ok());
}

TEST(QuickWay, TakesSamplesInAnyOrder) {
    const Trace trace = trace_of(8);
    CurveStore back(trace.curve);
    std::ranges::reverse(back.x);
    std::ranges::reverse(back.y);
    const Solution a = solve(trace.law, trace.curve.view()), b = solve(trace.law, back.view());
    EXPECT_EQ(a.rss, b.rss);
    EXPECT_EQ(a.shape, b.shape);
}

TEST(QuickWay, LeavesToTheGeneralOneWhatItCannotVouchFor) {
    const Law one = exponentials(1, false), two = exponentials(2, false);
    CurveStore curve = curve_of(one, {1}, {1.1}, 1000, 5);
    std::mt19937_64 random(seed_base);
    add_noise(curve, 0.01, 0, random);
    EXPECT_TRUE(solve(one, curve.view(), Way::fast).ok());
    EXPECT_FALSE(solve(two, curve.view(), Way::fast).ok());  // one exponential has no second time constant
    EXPECT_TRUE(std::isfinite(solve(two, curve.view()).rss));
    const CurveStore flat{curve.x, std::vector<double>(curve.x.size(), 3.0), {}};
    const CurveStore zero{curve.x, std::vector<double>(curve.x.size(), 0.0), {}};
    for (const Law& law : {exponentials(1, true), exponentials(2, true), stretched(true)}) {
        EXPECT_FALSE(solve(law, flat.view(), Way::fast).ok());
        EXPECT_FALSE(solve(law, zero.view(), Way::fast).ok());
    }
}

TEST(QuickWay, SaysNothingOfPointsThatCannotBeUsed) {
    const Law law = exponentials(2, true);
    const CurveStore curve = curve_of(law, {0.6, 0.5, 0.05}, {0.25, 1.3}, 2000, 6);
    for (const double bad : {std::nan(""), std::numeric_limits<double>::infinity(), 1e150, -1e307})
        for (const std::size_t place : {0, 5, 1000, 1999}) {
            CurveStore spoiled(curve);
            spoiled.y[place] = bad;
            EXPECT_EQ(solve(law, spoiled.view(), Way::fast).outcome, Outcome::not_run) << bad << " " << place;
            EXPECT_EQ(solve(law, spoiled.view()).outcome, Outcome::bad_samples) << bad << " " << place;
            CurveStore misplaced(curve);
            misplaced.x[place] = bad;
            EXPECT_EQ(solve(law, misplaced.view()).outcome, Outcome::bad_samples) << bad << " " << place;
        }
    EXPECT_EQ(solve(law, {}).outcome, Outcome::too_few_samples);
    EXPECT_EQ(solve(law, {curve.x, {curve.y.data(), 100}, {}}).outcome, Outcome::bad_samples);
}

RC_GTEST_PROP(QuickWay, ChangesOnlyItsUnitsWithTheUnits, ()) {
    const auto trial = *rc::gen::inRange<std::uint64_t>(0, 240);
    const double x_unit = 1.7 * std::pow(10, *rc::gen::inRange(-9, 9));
    const double y_unit = (*rc::gen::arbitrary<bool>() ? 1.3 : -1.3) * std::pow(10, *rc::gen::inRange(-9, 9));
    const Trace trace = trace_of(trial);
    CurveStore other(trace.curve);
    for (double& x : other.x) x *= x_unit;
    for (double& y : other.y) y *= y_unit;
    const Solution a = solve(trace.law, trace.curve.view(), Way::fast),
                   b = solve(trace.law, other.view(), Way::fast);
    RC_ASSERT(a.ok() == b.ok());
    if (!a.ok()) return;
    RC_ASSERT(std::abs(b.rss / (y_unit * y_unit) / a.rss - 1) < 1e-9);
    for (std::size_t k = 0; k < a.shape.size(); ++k) {
        const double unit = trace.law.shape[k].scales_with_x ? x_unit : 1;
        RC_ASSERT(std::abs(b.shape[k] / unit / a.shape[k] - 1) < 1e-7);
    }
}

RC_GTEST_PROP(QuickWay, FollowsAShiftOfTheBeginningByTheAmplitudes, ()) {
    // exp(-(x + s)/T) = exp(-s/T) exp(-x/T): time constants and offset stay.
    const auto trial = *rc::gen::inRange<std::uint64_t>(0, 60) * 4;
    const double shift = *rc::gen::inRange(-10, 20) * 0.11;
    const Trace trace = trace_of(trial);
    CurveStore later(trace.curve);
    for (double& x : later.x) x += shift;
    const Solution a = solve(trace.law, trace.curve.view(), Way::fast),
                   b = solve(trace.law, later.view(), Way::fast);
    RC_ASSERT(a.ok() == b.ok());
    if (!a.ok()) return;
    RC_ASSERT(std::abs(b.rss / a.rss - 1) < 1e-9);
    for (std::size_t k = 0; k < a.shape.size(); ++k) {
        RC_ASSERT(std::abs(b.shape[k] / a.shape[k] - 1) < 1e-7);
        const double grown = a.amplitudes[k] * std::exp(shift / a.shape[k]);
        RC_ASSERT(std::abs(b.amplitudes[k] / grown - 1) < 1e-5);
    }
}

TEST(QuickWay, ReadsTenMillionSamplesWithoutKeepingThem) {
    constexpr std::size_t count = 10'000'000;
    CurveStore curve;
    curve.x.resize(count);
    curve.y.resize(count);
    const double ratio_1 = std::exp(-1 / 3e5), ratio_2 = std::exp(-1 / 2e6);
    double first = 0.6, second = 0.5;
    std::uint64_t state = seed_base;
    for (std::size_t i = 0; i < count; ++i) {
        curve.x[i] = 1e-3 * static_cast<double>(i);
        state = state * 6364136223846793005u + 1442695040888963407u;
        const double noise = 0.02 * (static_cast<double>(state >> 11) * 0x1p-53 - 0.5);
        curve.y[i] = first + second + 0.05 + noise;
        first *= ratio_1;
        second *= ratio_2;
    }
    const auto peak_kB = [] {
        rusage usage{};
        getrusage(RUSAGE_SELF, &usage);
        return usage.ru_maxrss;
    };
    const long before = peak_kB();
    const Solution found = solve(exponentials(2, true), curve.view());
    ASSERT_TRUE(found.ok() && found.fast);
    EXPECT_LT(peak_kB() - before, 4000);
    // Standard errors are of the order of 0.006 / sqrt(10^7) = 2e-6 of the amplitude, some times more where
    // parts trade with each other.
    EXPECT_NEAR(found.shape[0], 300, 300 * 2e-4);
    EXPECT_NEAR(found.shape[1], 2000, 2000 * 2e-4);
    EXPECT_NEAR(found.amplitudes[2], 0.05, 1e-4);
    // Uniform noise of width w has the variance w^2 / 12.
    EXPECT_NEAR(found.rss / static_cast<double>(count) / (0.02 * 0.02 / 12), 1, 2e-3);
}

}  // namespace
}  // namespace ebbtide::fit
