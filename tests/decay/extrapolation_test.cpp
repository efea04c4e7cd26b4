#include "decay/extrapolation.hpp"

#include <gtest/gtest.h>
#include <rapidcheck.h>

#include <chrono>
#include <cmath>
#include <functional>
#include <limits>
#include <random>

#include "fit/profile.hpp"

namespace ebbtide::decay {
namespace {

using plan::Level;

const Level tenth{Level::Kind::fraction, 0.1, "0.1"};
const std::vector<LawKind> closed_forms{LawKind::exponential, LawKind::two_exponentials,
                                        LawKind::three_exponentials, LawKind::stretched, LawKind::power};

fit::CurveStore curve_of(const std::function<double(double)>& fall, double length_s, double noise_V,
                         std::uint64_t seed, int samples = 300) {
    std::mt19937_64 random(seed);
    std::normal_distribution<double> normal;
    fit::CurveStore out;
    for (int i = 0; i < samples; ++i) {
        out.x.push_back(length_s * i / samples);
        out.y.push_back(fall(out.x.back()) + noise_V * normal(random));
    }
    return out;
}

Extrapolation beyond(const fit::CurveStore& curve, const std::vector<LawKind>& kinds,
                     const std::vector<Level>& levels = {tenth}, const StartLevel& start = {},
                     const Offset& offset = {}) {
    const LawChoice choice = choose_law(curve.view(), kinds, offset, fit::Scatter::from_residuals);
    return extrapolate(choice, curve.view(), levels, start);
}

double exponential(double t) {
    return 1000 * std::exp(-t);
}
double stretched(double t) {
    return 1000 * std::exp(-std::pow(t, 0.6));
}
double power(double t) {
    return 1000 / (1 + t);
}
double two_exponentials(double t) {
    return 600 * std::exp(-t / 0.3) + 400 * std::exp(-t / 2);
}

double width_of(const Extrapolated& time) {
    return time.low_s && time.high_s ? *time.high_s - *time.low_s : std::numeric_limits<double>::infinity();
}

TEST(Extrapolation, IsExactWhereNoNoiseHidesTheLaw) {
    const std::vector<Level> levels{tenth, {Level::Kind::fraction, 0.01, "0.01"}};
    const auto expect = [&](LawKind kind, double (*fall)(double), double length_s, double at_10,
                            double at_1) {
        const Extrapolation out = beyond(curve_of(fall, length_s, 0, 1), {kind}, levels);
        ASSERT_EQ(out.by_model.at(0).size(), 2u) << name_of(kind);
        for (std::size_t i = 0; i < 2; ++i) {
            const Extrapolated& time = out.by_model[0][i];
            ASSERT_TRUE(time.decay_s && time.low_s && time.high_s) << name_of(kind);
            EXPECT_NEAR(*time.decay_s / (i == 0 ? at_10 : at_1), 1, 1e-6) << name_of(kind);
            EXPECT_LT(width_of(time), 1e-3 * *time.decay_s) << name_of(kind);
        }
    };
    // ln 10 and ln 100 (Abramowitz and Stegun, table 4.2, from memory).
    expect(LawKind::exponential, exponential, 0.9, 2.302585093, 4.605170186);
    // Their powers by 1 / 0.6.
    expect(LawKind::stretched, stretched, 0.8, 4.015067, 12.747044);
    // 1 / (1 + t) = 1/10 and 1/100: arithmetic.
    expect(LawKind::power, power, 1.5, 9, 99);
    // The sum set to 100 and to 10, solved by halving in Python.
    expect(LawKind::two_exponentials, two_exponentials, 2, 2.7737472239, 7.3777589107);
}

TEST(Extrapolation, OfAnExponentialIsAsSureAsItsTimeConstant) {
    // t(p) = T ln(1/p) where V0 is the law's own start, so both intervals are the same profile.
    const fit::CurveStore curve = curve_of(exponential, 0.9, 20, 7);
    const fit::Law law = law_of(LawKind::exponential, {});
    const fit::Spread spread{fit::Scatter::from_residuals};
    const fit::Fit found = fit::fit(law, curve.view(), spread);
    const auto of_constant = fit::profile_interval(law, curve.view(), spread, found, 1, 0.95);
    ASSERT_TRUE(of_constant && of_constant->low && of_constant->high);
    const Extrapolated time = beyond(curve, {LawKind::exponential}).by_model.at(0).at(0);
    ASSERT_TRUE(time.low_s && time.high_s);
    // Ends are sought to a thousandth of half the interval, means in place of samples change as much.
    const double close = 0.005 * width_of(time);
    EXPECT_NEAR(*time.low_s, *of_constant->low * std::log(10.0), close);
    EXPECT_NEAR(*time.high_s, *of_constant->high * std::log(10.0), close);
}

TEST(Extrapolation, AddsWhatTheMeasuredStartIsKnownTo) {
    // t = T ln(A / (p V0)): u(V0) moves it by T u(V0) / V0, on top of what the fit leaves open.
    const fit::CurveStore curve = curve_of(exponential, 0.9, 2, 3, 2000);
    const Extrapolated known = beyond(curve, {LawKind::exponential}, {tenth}, {1000, 0}).by_model.at(0).at(0);
    const Extrapolated read = beyond(curve, {LawKind::exponential}, {tenth}, {1000, 10}).by_model.at(0).at(0);
    // 1.96: the normal's 97.5 % point (any table).
    const double added = 2 * 1.96 * 0.01;
    EXPECT_NEAR(width_of(read), std::hypot(width_of(known), added), 0.01 * added);
    EXPECT_EQ(known.decay_s, read.decay_s);
}

TEST(Extrapolation, CountsOnlyLevelsThatTheRecordDoesNotReach) {
    const fit::CurveStore curve = curve_of(exponential, 0.9, 5, 1);  // ends at 41 %
    const std::vector<Level> levels{{Level::Kind::fraction, 0.5, "0.5"},
                                    {Level::Kind::absolute_V, 1200, "1200 V"},
                                    {Level::Kind::absolute_V, 300, "300 V"}};
    const Extrapolation out = beyond(curve, {LawKind::exponential}, levels);
    ASSERT_EQ(out.by_model.at(0).size(), 1u);
    EXPECT_EQ(out.by_model[0][0].level, levels[2]);
    ASSERT_EQ(out.averaged.size(), 1u);
    EXPECT_NEAR(*out.averaged[0].decay_s, std::log(1000.0 / 300), 0.05);
}

TEST(Extrapolation, KnowsThatACurveWhichEndsAboveALevelNeverReachesIt) {
    const auto fall = [](double t) { return 200 + 800 * std::exp(-t); };
    const Extrapolation out = beyond(curve_of(fall, 4, 2, 1), {LawKind::exponential}, {tenth}, {},
                                     {.kind = Offset::Kind::stated, .value_V = 200});
    ASSERT_EQ(out.by_model.at(0).size(), 1u);
    EXPECT_FALSE(out.by_model[0][0].decay_s || out.by_model[0][0].low_s || out.by_model[0][0].high_s);
    EXPECT_FALSE(out.averaged.at(0).decay_s || out.averaged[0].high_s);
}

TEST(Extrapolation, SaysFromWhenOnALevelMayBeReachedThatTheOffsetHides) {
    // A free offset a little above the level, known to 3 V: the level may be reached, but not soon.
    const auto fall = [](double t) { return 103 + 897 * std::exp(-t); };
    const Extrapolated time =
        beyond(curve_of(fall, 2.5, 10, 1), {LawKind::exponential}, {tenth}, {}, {.kind = Offset::Kind::free})
            .by_model.at(0)
            .at(0);
    EXPECT_FALSE(time.decay_s.has_value());
    ASSERT_TRUE(time.low_s.has_value());
    EXPECT_GT(*time.low_s, 4);
    EXPECT_FALSE(time.high_s.has_value());
}

TEST(Extrapolation, DoesNotDependOnUnits) {
    const fit::CurveStore curve = curve_of(power, 1.5, 5, 11);
    fit::CurveStore other = curve;
    for (double& t : other.x) t *= 1000;
    for (double& y : other.y) y *= 0.003;
    const std::vector<LawKind> kinds{LawKind::exponential, LawKind::stretched, LawKind::power};
    const Extrapolation in_s = beyond(curve, kinds), in_ms = beyond(other, kinds);
    const auto expect_alike = [](const Extrapolated& s, const Extrapolated& ms) {
        ASSERT_TRUE(s.decay_s && s.low_s && s.high_s && ms.decay_s && ms.low_s && ms.high_s);
        EXPECT_NEAR(*ms.decay_s / *s.decay_s, 1000, 1e-4);
        // Rounding decides to which of two means a sample belongs.
        const double close = 0.005 * width_of(s);
        EXPECT_NEAR(*ms.low_s / 1000, *s.low_s, close);
        EXPECT_NEAR(*ms.high_s / 1000, *s.high_s, close);
    };
    expect_alike(in_s.by_model.at(1).at(0), in_ms.by_model.at(1).at(0));
    expect_alike(in_s.by_model.at(2).at(0), in_ms.by_model.at(2).at(0));
}

TEST(Extrapolation, OfACurveBelowZeroMirrorsThatOfOneAbove) {
    const fit::CurveStore curve = curve_of(exponential, 0.9, 5, 2);
    fit::CurveStore mirrored = curve;
    for (double& y : mirrored.y) y = -y;
    const Extrapolated above = beyond(curve, {LawKind::exponential}).averaged.at(0);
    const Extrapolated below = beyond(mirrored, {LawKind::exponential}).averaged.at(0);
    EXPECT_EQ(above.decay_s, below.decay_s);
    EXPECT_EQ(above.low_s, below.low_s);
    EXPECT_EQ(above.high_s, below.high_s);
}

TEST(Extrapolation, IsLessSureTheEarlierTheTailIsHidden) {
    EXPECT_TRUE(rc::check([] {
        const auto seed = *rc::gen::inRange<std::uint64_t>(0, 1000000);
        const auto kind = *rc::gen::element(LawKind::exponential, LawKind::stretched);
        const fit::CurveStore whole = curve_of(exponential, 2, 5, seed, 400);
        double before = 0;
        for (const std::size_t kept : {350, 200, 100}) {
            fit::CurveStore record = whole;
            record.x.resize(kept);
            record.y.resize(kept);
            const double width = width_of(beyond(record, {kind}).by_model.at(0).at(0));
            RC_ASSERT(width > before);
            before = width;
        }
    }));
}

TEST(Extrapolation, AveragesOverOneLawToThatLaw) {
    const Extrapolation out = beyond(curve_of(stretched, 0.9, 5, 5), {LawKind::stretched});
    const Extrapolated &one = out.by_model.at(0).at(0), &averaged = out.averaged.at(0);
    // Between the places that the walk has looked at, the shape is taken from a line.
    EXPECT_NEAR(*averaged.decay_s, *one.decay_s, 0.01 * width_of(one));
    EXPECT_NEAR(*averaged.low_s, *one.low_s, 0.01 * width_of(one));
    EXPECT_NEAR(*averaged.high_s, *one.high_s, 0.01 * width_of(one));
}

TEST(Extrapolation, AveragedIsWiderThanThatOfALawWhichAloneMayBeWrong) {
    const Extrapolation out = beyond(curve_of(exponential, 0.9, 5, 6), closed_forms);
    const Extrapolated& averaged = out.averaged.at(0);
    EXPECT_GT(width_of(averaged), width_of(out.by_model.at(0).at(0)));
    EXPECT_LE(*averaged.low_s, std::log(10.0));
    EXPECT_GE(*averaged.high_s, std::log(10.0));
}

TEST(Extrapolation, TakesNoNoiseForAPartThatCancelsAnother) {
    // Three exponentials laid through one often end in two giants of opposite sign, which would allow
    // anything of what comes after the record.
    int fitted = 0;
    for (const std::uint64_t seed : {1, 2, 3, 4}) {
        const fit::CurveStore curve = curve_of(exponential, 1.4, 5, seed);
        const Extrapolation out = beyond(curve, {LawKind::three_exponentials});
        for (const Extrapolated& time : out.by_model.at(0)) {
            ++fitted;
            ASSERT_TRUE(time.decay_s.has_value());
            EXPECT_NEAR(*time.decay_s, std::log(10.0), 0.2);
            EXPECT_LT(width_of(time), 1);
        }
    }
    EXPECT_GE(fitted, 2);
}

TEST(Extrapolation, OfNoLawIsEmpty) {
    const Extrapolation out = beyond({{0, 1}, {2, 1}, {}}, {LawKind::exponential});
    ASSERT_EQ(out.by_model.size(), 1u);
    EXPECT_TRUE(out.by_model[0].empty());
    EXPECT_TRUE(out.averaged.empty());
}

TEST(Extrapolation, OfAnythingIsANumberOrNothing) {
    EXPECT_TRUE(rc::check([] {
        const auto count = *rc::gen::inRange(2, 60);
        const auto voltages = *rc::gen::container<std::vector<int>>(static_cast<std::size_t>(count),
                                                                    rc::gen::inRange(-1000, 1000));
        const auto kind = *rc::gen::elementOf(closed_forms);
        const bool free_offset = *rc::gen::arbitrary<bool>(), measured = *rc::gen::arbitrary<bool>();
        fit::CurveStore curve;
        for (int i = 0; i < count; ++i) {
            curve.x.push_back(0.1 * i);
            curve.y.push_back(voltages[static_cast<std::size_t>(i)]);
        }
        const StartLevel start = measured ? StartLevel{800, 40} : StartLevel{};
        const Extrapolation out =
            beyond(curve, {LawKind::exponential, kind},
                   {tenth, {Level::Kind::absolute_V, 10, "10 V"}, {Level::Kind::fraction, 0, "0"}}, start,
                   {.kind = free_offset ? Offset::Kind::free : Offset::Kind::stated});
        std::vector<Extrapolated> all = out.averaged;
        for (const auto& model : out.by_model) all.insert(all.end(), model.begin(), model.end());
        for (const Extrapolated& time : all) {
            for (const auto& number : {time.decay_s, time.low_s, time.high_s})
                RC_ASSERT(!number || (std::isfinite(*number) && *number > 0));
            if (time.decay_s && time.low_s) RC_ASSERT(*time.low_s <= *time.decay_s);
            if (time.decay_s && time.high_s) RC_ASSERT(*time.decay_s <= *time.high_s);
        }
    }));
}

TEST(Extrapolation, CostsAFewMillisecondsALevelHoweverLongTheRecord) {
    // Printed, and bounded far above what it takes, since others may use the machine.
    const fit::CurveStore curve = curve_of(two_exponentials, 0.9, 5, 9, 200000);
    const LawChoice choice =
        choose_law(curve.view(), {LawKind::two_exponentials}, {}, fit::Scatter::from_residuals);
    std::vector<Level> levels;
    for (int i = 0; i < 20; ++i) levels.push_back({Level::Kind::fraction, 0.1 + 0.005 * i, "level"});
    const auto time_of = [&](std::size_t count) {
        const auto begin = std::chrono::steady_clock::now();
        const std::vector<Level> some(levels.begin(), levels.begin() + static_cast<std::ptrdiff_t>(count));
        EXPECT_EQ(extrapolate(choice, curve.view(), some, {}).averaged.size(), count);
        return std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();
    };
    const double one_s = time_of(1), all_s = time_of(20);
    std::printf("200,000 samples: %.1f ms for what levels share, %.2f ms a level\n",
                1e3 * (one_s - (all_s - one_s) / 19), 1e3 * (all_s - one_s) / 19);
    EXPECT_LT(all_s, 5);
}

}  // namespace
}  // namespace ebbtide::decay
