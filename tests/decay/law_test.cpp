// Laws of decay, and what fitting them promises whatever the units, the order of the samples and the scale.

#include "decay/law.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <random>

#include "fit/fit.hpp"
#include "fit/profile.hpp"

namespace ebbtide::decay {
namespace {

const fit::Spread own{fit::Scatter::from_residuals};

/// A decay of every law: shape parameters for a length of 5.
std::vector<double> shape_of(LawKind kind) {
    switch (kind) {
        case LawKind::exponential:
            return {1.1};
        case LawKind::two_exponentials:
            return {0.3, 1.4};
        case LawKind::three_exponentials:
            return {0.1, 0.5, 2.5};
        case LawKind::stretched:
            return {0.9, 0.6};
        case LawKind::power:
            return {0.7, 1.3};
        case LawKind::backed_sheet:
        case LawKind::hanging_sheet:
            return {1.2};
    }
    return {};
}

std::vector<double> amplitudes_of(const fit::Law& law) {
    std::vector<double> out(law.amplitudes.size(), 0.8);
    if (!law.amplitudes.empty() && law.amplitudes.back() == "offset_V") out.back() = 0.05;
    return out;
}

fit::CurveStore noisy(const fit::Law& law, LawKind kind, double noise, std::uint64_t seed,
                      std::size_t count = 600) {
    std::mt19937_64 random(seed);
    std::normal_distribution<double> normal;
    fit::CurveStore out;
    for (std::size_t i = 0; i < count; ++i)
        out.x.push_back(5 * static_cast<double>(i) / static_cast<double>(count));
    out.y = fit::values_of(law, amplitudes_of(law), shape_of(kind), out.x);
    for (double& y : out.y) y += noise * normal(random);
    return out;
}

const std::vector<Offset> all_offsets{
    {Offset::Kind::free}, {Offset::Kind::stated, 0.1}, {Offset::Kind::minus_amplitude}};

TEST(Laws, HaveTheSlopesOfTheirColumns) {
    const std::vector<double> t{0, 1e-3, 0.2, 1, 4, 30};
    for (const LawKind kind : law_kinds_under({}))
        for (const Offset& offset : all_offsets) {
            const fit::Law law = law_of(kind, offset);
            std::vector<double> theta = shape_of(kind);
            const auto rows = static_cast<Eigen::Index>(t.size());
            Eigen::MatrixXd columns(rows, static_cast<Eigen::Index>(law.amplitudes.size()));
            Eigen::MatrixXd slopes(rows, static_cast<Eigen::Index>(law.slopes.size()));
            Eigen::MatrixXd none(rows, 0), up(columns), down(columns);
            law.evaluate(t, theta, columns, slopes);
            for (std::size_t s = 0; s < law.slopes.size(); ++s) {
                const auto [column, parameter] = law.slopes[s];
                const double h = 1e-5, middle = theta[parameter];
                theta[parameter] = middle * std::exp(h);
                law.evaluate(t, theta, up, none);
                theta[parameter] = middle * std::exp(-h);
                law.evaluate(t, theta, down, none);
                theta[parameter] = middle;
                const auto j = static_cast<Eigen::Index>(column);
                for (Eigen::Index i = 0; i < rows; ++i)
                    EXPECT_NEAR(slopes(i, static_cast<Eigen::Index>(s)), (up(i, j) - down(i, j)) / (2 * h),
                                1e-9)
                        << law.name << " " << law.shape[parameter].name << " at "
                        << t[static_cast<std::size_t>(i)];
            }
        }
}

TEST(Laws, StayFiniteAtTheEndsOfTheirRange) {
    const std::vector<double> t{0, 1e-300, 1e-9, 1, 1e9};
    for (const LawKind kind : law_kinds_under({}))
        for (const double scale : {1e-12, 1e12}) {
            const fit::Law law = law_of(kind, {Offset::Kind::free});
            std::vector<double> theta;
            for (const fit::ShapeParameter& p : law.shape)
                theta.push_back(p.scales_with_x ? scale : scale < 1 ? p.lowest : p.highest);
            Eigen::MatrixXd columns(5, static_cast<Eigen::Index>(law.amplitudes.size()));
            Eigen::MatrixXd slopes(5, static_cast<Eigen::Index>(law.slopes.size()));
            law.evaluate(t, theta, columns, slopes);
            EXPECT_TRUE(columns.allFinite() && slopes.allFinite()) << law.name << " " << scale;
        }
}

TEST(Laws, AreFoundAgainByTheirNames) {
    for (const LawKind kind : law_kinds_under({})) EXPECT_EQ(law_kind_of(name_of(kind)), kind);
    EXPECT_FALSE(law_kind_of("linear").has_value());
}

TEST(FittedLaw, ReturnsTheTruthFromACleanCurve) {
    for (const LawKind kind : law_kinds_under({}))
        for (const Offset& offset : all_offsets) {
            const fit::Law law = law_of(kind, offset);
            const fit::Fit found = fit::fit(law, noisy(law, kind, 0, 1).view(), own);
            ASSERT_TRUE(found.ok()) << law.name << ": " << found.reason;
            const std::vector<double> truth = shape_of(kind);
            for (std::size_t k = 0; k < truth.size(); ++k)
                EXPECT_NEAR(found.shape(law)[k] / truth[k], 1, 1e-9) << law.name << " " << law.shape[k].name;
            for (std::size_t j = 0; j < law.amplitudes.size(); ++j)
                EXPECT_NEAR(found.amplitudes(law)[j], amplitudes_of(law)[j], 1e-9) << law.name;
        }
}

RC_GTEST_PROP(FittedLaw, ChangesOnlyItsUnitsWithTheUnits, ()) {
    const auto kind = *rc::gen::elementOf(law_kinds_under({}));
    const auto seed = *rc::gen::inRange<std::uint64_t>(1, 1000000);
    const double time_unit = std::pow(10, *rc::gen::inRange(-9, 9)) * 1.7;
    const double volt_unit =
        std::pow(10, *rc::gen::inRange(-9, 9)) * (*rc::gen::arbitrary<bool>() ? 1.3 : -1.3);
    const fit::Law law = law_of(kind, {Offset::Kind::free});
    const fit::CurveStore curve = noisy(law, kind, 1e-4, seed);
    fit::CurveStore other(curve);
    for (double& x : other.x) x *= time_unit;
    for (double& y : other.y) y *= volt_unit;
    const fit::Fit a = fit::fit(law, curve.view(), own), b = fit::fit(law, other.view(), own);
    RC_ASSERT(a.ok() && b.ok());
    // Where two parts are nearly alike, rounding of the units is magnified: agreement is measured in standard
    // errors.
    for (std::size_t i = 0; i < a.parameters.size(); ++i) {
        const bool shape = i >= law.amplitudes.size();
        const double unit = !shape                                               ? volt_unit
                            : law.shape[i - law.amplitudes.size()].scales_with_x ? time_unit
                                                                                 : 1;
        RC_ASSERT(a.parameters[i].standing == b.parameters[i].standing);
        if (!a.parameters[i].standard_error) continue;
        const double error = *a.parameters[i].standard_error;
        RC_ASSERT(std::abs(b.parameters[i].value / unit - a.parameters[i].value) < 1e-6 * error);
        RC_ASSERT(std::abs(*b.parameters[i].standard_error / std::abs(unit) / error - 1) < 1e-6);
    }
    RC_ASSERT(std::abs(b.rss / (volt_unit * volt_unit) / a.rss - 1) < 1e-9);
}

RC_GTEST_PROP(FittedLaw, DoesNotCareForTheOrderOfItsSamples, ()) {
    const auto kind = *rc::gen::elementOf(law_kinds_under({}));
    const auto seed = *rc::gen::inRange<std::uint64_t>(1, 1000000);
    const fit::Law law = law_of(kind, {});
    const fit::CurveStore curve = noisy(law, kind, 1e-3, seed, 300);
    std::vector<std::size_t> order(curve.x.size());
    for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
    std::mt19937_64 random(seed);
    std::ranges::shuffle(order, random);
    fit::CurveStore mixed;
    for (const std::size_t i : order) {
        mixed.x.push_back(curve.x[i]);
        mixed.y.push_back(curve.y[i]);
    }
    const fit::Fit a = fit::fit(law, curve.view(), own), b = fit::fit(law, mixed.view(), own);
    RC_ASSERT(a.ok() && b.ok());
    RC_ASSERT(a.rss == b.rss);
    for (std::size_t i = 0; i < a.parameters.size(); ++i)
        RC_ASSERT(a.parameters[i].value == b.parameters[i].value);
}

RC_GTEST_PROP(FittedExponentials, FollowAShiftOfTimeByTheirAmplitudes, ()) {
    // exp(-(t + s)/T) = exp(-s/T) exp(-t/T): time constants and offset stay.
    const auto kind = *rc::gen::element(LawKind::exponential, LawKind::two_exponentials);
    const auto seed = *rc::gen::inRange<std::uint64_t>(1, 1000000);
    const double shift = *rc::gen::inRange(-10, 20) * 0.11;
    const fit::Law law = law_of(kind, {Offset::Kind::free});
    const fit::CurveStore curve = noisy(law, kind, 1e-4, seed);
    fit::CurveStore later(curve);
    for (double& x : later.x) x += shift;
    const fit::Fit a = fit::fit(law, curve.view(), own), b = fit::fit(law, later.view(), own);
    RC_ASSERT(a.ok() && b.ok());
    const std::size_t parts = law.shape.size();
    for (std::size_t k = 0; k < parts; ++k) {
        RC_ASSERT(std::abs(a.shape(law)[k] / b.shape(law)[k] - 1) < 1e-7);
        const double grown = a.amplitudes(law)[k] * std::exp(shift / a.shape(law)[k]);
        RC_ASSERT(std::abs(b.amplitudes(law)[k] / grown - 1) < 1e-6);
    }
    RC_ASSERT(std::abs(a.rss / b.rss - 1) < 1e-9);
}

TEST(FittedLaw, WeighsItsSamples) {
    // A sample counted four times is a sample of half the sigma.
    const fit::Law law = law_of(LawKind::two_exponentials, {});
    const fit::CurveStore curve = noisy(law, LawKind::two_exponentials, 1e-3, 3, 200);
    fit::CurveStore repeated, weighted(curve);
    for (std::size_t i = 0; i < curve.x.size(); ++i) {
        for (int copy = 0; copy < (i % 2 ? 4 : 1); ++copy) {
            repeated.x.push_back(curve.x[i]);
            repeated.y.push_back(curve.y[i]);
            repeated.sigma.push_back(1e-3);
        }
        weighted.sigma.push_back(i % 2 ? 0.5e-3 : 1e-3);
    }
    const fit::Spread stated{fit::Scatter::stated};
    const fit::Fit a = fit::fit(law, repeated.view(), stated), b = fit::fit(law, weighted.view(), stated);
    ASSERT_TRUE(a.ok() && b.ok());
    EXPECT_NEAR(a.rss / b.rss, 1, 1e-9);
    for (std::size_t i = 0; i < a.parameters.size(); ++i) {
        EXPECT_NEAR(a.parameters[i].value / b.parameters[i].value, 1, 1e-8);
        EXPECT_NEAR(*a.parameters[i].standard_error / *b.parameters[i].standard_error, 1, 1e-8);
    }
}

TEST(FittedLaw, WithStatedSigmaDoesNotLookAtTheResiduals) {
    const fit::Law law = law_of(LawKind::exponential, {Offset::Kind::free});
    fit::CurveStore curve = noisy(law, LawKind::exponential, 1e-3, 3);
    curve.sigma.assign(curve.x.size(), 2e-3);  // twice what it is
    const fit::Fit stated = fit::fit(law, curve.view(), {fit::Scatter::stated});
    const fit::Fit scaled = fit::fit(law, curve.view(), own);
    ASSERT_TRUE(stated.ok() && scaled.ok());
    EXPECT_NEAR(*stated.parameters[0].standard_error / *scaled.parameters[0].standard_error, 2, 0.15);
    const fit::Fit white = fit::fit(law, curve.view(), {fit::Scatter::stated_noise, {.white = 2e-3}});
    EXPECT_NEAR(*stated.parameters[0].standard_error / *white.parameters[0].standard_error, 1, 1e-9);
}

TEST(FittedLaw, SaysWhenItsPartsCannotBeToldApart) {
    const fit::Law one = law_of(LawKind::exponential, {}), two = law_of(LawKind::two_exponentials, {});
    const fit::CurveStore curve = noisy(one, LawKind::exponential, 1e-2, 5);
    const fit::Fit found = fit::fit(two, curve.view(), own);
    const bool lost = std::ranges::any_of(found.parameters, [](const fit::Parameter& p) {
        return p.standing == fit::Standing::not_determined || p.standing == fit::Standing::at_bound;
    });
    EXPECT_TRUE(!found.told_apart || lost);
    EXPECT_TRUE(found.told_apart || !found.merged.empty());
}

TEST(FittedLaw, LeavesUndeterminedWhatARecordTooShortCannotSay) {
    // A thousandth of a time constant with an offset free: any time constant beyond does as well.
    const fit::Law law = law_of(LawKind::exponential, {Offset::Kind::free});
    fit::CurveStore curve;
    std::mt19937_64 random(11);
    std::normal_distribution<double> normal;
    for (int i = 0; i < 300; ++i) {
        curve.x.push_back(i * 1e-5);
        curve.y.push_back(std::exp(-curve.x.back()) + 1e-3 * normal(random));
    }
    const fit::Fit found = fit::fit(law, curve.view(), own);
    const fit::Parameter* T = found.find("time_constant_s");
    ASSERT_NE(T, nullptr);
    EXPECT_NE(T->standing, fit::Standing::free);
    EXPECT_FALSE(T->standard_error.has_value());
}

TEST(FittedLaw, KeepsWhatIsHeld) {
    const fit::Law law = law_of(LawKind::stretched, {});
    const fit::CurveStore curve = noisy(law, LawKind::stretched, 1e-3, 5);
    const fit::Fit found = fit::fit(law, curve.view(), own, {std::nullopt, 0.6});
    ASSERT_TRUE(found.ok());
    EXPECT_EQ(found.find("exponent")->standing, fit::Standing::held);
    EXPECT_NEAR(found.find("exponent")->value, 0.6, 1e-15);
    EXPECT_FALSE(found.find("exponent")->standard_error.has_value());
    EXPECT_EQ(found.find("time_constant_s")->standing, fit::Standing::free);
}

TEST(FittedLaw, RefusesWhatIsNoCurve) {
    const fit::Law law = law_of(LawKind::stretched, {Offset::Kind::free});
    const auto outcome = [&](const fit::CurveStore& c) { return fit::fit(law, c.view(), own).outcome; };
    EXPECT_EQ(outcome({}), fit::Outcome::too_few_samples);
    EXPECT_EQ(outcome({{1, 2, 3, 4}, {4, 3, 2, 1}, {}}), fit::Outcome::too_few_samples);
    EXPECT_EQ(outcome({{1, 1, 1, 1, 1, 1}, {4, 3, 2, 1, 0, 0}, {}}), fit::Outcome::too_few_samples);
    EXPECT_EQ(outcome({{0, 1, 2, 3, 4, 5}, {4, 3, std::nan(""), 1, 0, 0}, {}}), fit::Outcome::bad_samples);
    EXPECT_EQ(outcome({{0, 1, 2, 3, 4, std::numeric_limits<double>::infinity()}, {4, 3, 2, 1, 0, 0}, {}}),
              fit::Outcome::bad_samples);
    EXPECT_EQ(outcome({{-1, 1, 2, 3, 4, 5}, {4, 3, 2, 1, 0, 0}, {}}), fit::Outcome::bad_samples);
    EXPECT_EQ(outcome({{0, 1, 2, 3, 4, 5}, {4, 3, 2, 1, 0, 0}, {1, 1, 1, 1, 0, 1}}),
              fit::Outcome::bad_samples);
    EXPECT_EQ(outcome({{0, 1, 2, 3, 4, 5}, {4, 3, 2, 1}, {}}), fit::Outcome::bad_samples);
    const fit::CurveStore plain{{0, 1, 2, 3, 4, 5}, {4, 3, 2, 1, 0.5, 0.2}, {}};
    EXPECT_EQ(fit::fit(law, plain.view(), {fit::Scatter::stated}).outcome, fit::Outcome::bad_samples);
}

TEST(FittedLaw, OfAFlatLineNamesNoTimeConstant) {
    for (const LawKind kind : law_kinds_under({}))
        for (const double level : {0.0, 3.0}) {
            const fit::Law law = law_of(kind, {Offset::Kind::free});
            fit::CurveStore curve;
            for (int i = 0; i < 50; ++i) {
                curve.x.push_back(i);
                curve.y.push_back(level);
            }
            const fit::Fit found = fit::fit(law, curve.view(), own);
            for (std::size_t i = law.amplitudes.size(); i < found.parameters.size(); ++i)
                EXPECT_FALSE(found.parameters[i].standing == fit::Standing::free &&
                             *found.parameters[i].standard_error > 0)
                    << law.name << " " << found.parameters[i].name;
            for (const fit::Parameter& p : found.parameters) EXPECT_TRUE(std::isfinite(p.value)) << law.name;
        }
}

TEST(ProfileInterval, IsTheStandardErrorsWhereTheSurfaceIsAParabola) {
    const fit::Law law = law_of(LawKind::exponential, {Offset::Kind::free});
    const fit::CurveStore curve = noisy(law, LawKind::exponential, 1e-4, 5);
    const fit::Fit found = fit::fit(law, curve.view(), own);
    for (std::size_t p = 0; p < found.parameters.size(); ++p) {
        const auto normal = fit::interval_of(found, law, p, 0.95);
        const auto profile = fit::profile_interval(law, curve.view(), own, found, p, 0.95);
        ASSERT_TRUE(normal && profile && profile->low && profile->high);
        const double width = normal->high - normal->low;
        EXPECT_NEAR(*profile->low, normal->low, 2e-3 * width);
        EXPECT_NEAR(*profile->high, normal->high, 2e-3 * width);
    }
}

TEST(ProfileInterval, HasNoUpperEndWhereTheRecordSetsNone) {
    // One time constant, offset free, noise 10 %: the time constant is bounded below only.
    const fit::Law law = law_of(LawKind::exponential, {Offset::Kind::free});
    fit::CurveStore curve;
    std::mt19937_64 random(11);
    std::normal_distribution<double> normal;
    for (int i = 0; i < 300; ++i) {
        curve.x.push_back(i / 300.0);
        curve.y.push_back(std::exp(-curve.x.back()) + 1e-1 * normal(random));
    }
    const fit::Fit found = fit::fit(law, curve.view(), own);
    const auto interval = fit::profile_interval(law, curve.view(), own, found, 2, 0.95);
    ASSERT_TRUE(interval && interval->low);
    EXPECT_LT(*interval->low, 1);
    EXPECT_FALSE(interval->high.has_value());
}

}  // namespace
}  // namespace ebbtide::decay
