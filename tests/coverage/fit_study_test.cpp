// Do the stated errors of fitted laws hold what they promise? Truth, number of trials and seeds are fixed
// before the run: N = 1000, seed 20,261,127 + trial; a true 95 % covers 921 to 975 of them (two-sided 1e-4).
// The median width is held against that of an oracle who knows the noise, so that wide intervals do not pass
// either.

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <random>

#include "decay/law.hpp"
#include "fit/fit.hpp"
#include "fit/profile.hpp"

namespace ebbtide {
namespace {

using decay::LawKind;
using decay::Offset;

constexpr int trials = 1000;
constexpr std::uint64_t seed_base = 20261127;

struct Study {
    LawKind kind;
    Offset::Kind offset;
    std::vector<double> amplitudes, shape;
    fit::LagNoise noise;
    fit::Scatter scatter;
    std::size_t samples = 500;
    double length_s = 6;
};

struct Outcome {
    std::vector<int> covered;         // trials, by parameter
    std::vector<double> width_ratio;  // median width over the oracle's
    int fitted = 0;
};

Outcome run(const Study& study) {
    const fit::Law law = decay::law_of(study.kind, {study.offset});
    const std::size_t count = law.parameter_count();
    std::vector<double> truth(study.amplitudes);
    truth.insert(truth.end(), study.shape.begin(), study.shape.end());
    fit::CurveStore curve;
    for (std::size_t i = 0; i < study.samples; ++i)
        curve.x.push_back(study.length_s * static_cast<double>(i) / static_cast<double>(study.samples));
    const std::vector<double> clean = fit::values_of(law, study.amplitudes, study.shape, curve.x);
    const double step_s = curve.x[1] - curve.x[0];
    const double keep = study.noise.correlation > 0 ? std::exp(-step_s / study.noise.correlation) : 0;

    Outcome out;
    out.covered.assign(count, 0);
    std::vector<std::vector<double>> widths(count), oracle_widths(count);
    for (int trial = 0; trial < trials; ++trial) {
        std::mt19937_64 random(seed_base + static_cast<std::uint64_t>(trial));
        std::normal_distribution<double> normal;
        curve.y = clean;
        double band = normal(random);
        for (double& y : curve.y) {
            y += study.noise.white * normal(random) + study.noise.band * band;
            band = keep * band + std::sqrt(1 - keep * keep) * normal(random);
        }
        const fit::Fit found = fit::fit(law, curve.view(), {study.scatter});
        const fit::Fit oracle =
            fit::fit_from(law, curve.view(), {fit::Scatter::stated_noise, study.noise}, study.shape);
        if (!found.ok()) continue;
        ++out.fitted;
        for (std::size_t p = 0; p < count; ++p) {
            const auto interval = fit::interval_of(found, law, p, 0.95);
            if (!interval || !oracle.parameters[p].standard_error) continue;
            out.covered[p] += interval->low <= truth[p] && truth[p] <= interval->high;
            widths[p].push_back(interval->high - interval->low);
            oracle_widths[p].push_back(2 * 1.96 * *oracle.parameters[p].standard_error);
        }
    }
    const auto median = [](std::vector<double>& values) {
        std::ranges::nth_element(values, values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2));
        return values[values.size() / 2];
    };
    for (std::size_t p = 0; p < count; ++p)
        out.width_ratio.push_back(median(widths[p]) / median(oracle_widths[p]));
    return out;
}

void expect_honest(const Study& study) {
    const Outcome out = run(study);
    const fit::Law law = decay::law_of(study.kind, {study.offset});
    EXPECT_EQ(out.fitted, trials);
    for (std::size_t p = 0; p < out.covered.size(); ++p) {
        const std::string name =
            p < law.amplitudes.size() ? law.amplitudes[p] : law.shape[p - law.amplitudes.size()].name;
        EXPECT_GE(out.covered[p], 921) << law.name << " " << name;
        EXPECT_LE(out.covered[p], 975) << law.name << " " << name;
        EXPECT_LE(out.width_ratio[p], 1.25) << law.name << " " << name;
        std::printf("%s %s: %d of %d, width over the oracle's %.3f\n", law.name.c_str(), name.c_str(),
                    out.covered[p], trials, out.width_ratio[p]);
    }
}

TEST(FittedErrors, CoverUnderWhiteNoise) {
    const fit::LagNoise white{.white = 0.01};
    const auto own = fit::Scatter::from_residuals;
    expect_honest({LawKind::exponential, Offset::Kind::free, {1, 0.05}, {1.2}, white, own});
    expect_honest(
        {LawKind::two_exponentials, Offset::Kind::free, {0.6, 0.5, 0.05}, {0.25, 1.3}, white, own, 1000});
    expect_honest({LawKind::stretched, Offset::Kind::stated, {1}, {0.8, 0.6}, white, own});
    expect_honest({LawKind::power, Offset::Kind::stated, {1}, {0.8, 1.4}, white, own});
}

TEST(FittedErrors, CoverUnderBandLimitedNoise) {
    // A correlation time of five samples: errors that ignore it would be three times too small.
    const fit::LagNoise band{.white = 0.003, .band = 0.01, .correlation = 0.03};
    const auto own = fit::Scatter::correlated_residuals;
    expect_honest({LawKind::exponential, Offset::Kind::free, {1, 0.05}, {1.2}, band, own, 1000});
    expect_honest(
        {LawKind::two_exponentials, Offset::Kind::free, {0.6, 0.5, 0.05}, {0.25, 1.3}, band, own, 1000, 6});
    expect_honest({LawKind::stretched, Offset::Kind::stated, {1}, {0.8, 0.6}, band, own, 1000});
    expect_honest({LawKind::power, Offset::Kind::stated, {1}, {0.8, 1.4}, band, own, 1000});
}

TEST(FittedErrors, ThatIgnoreTheMemoryOfASensorAreFarTooSmall) {
    // Guards the study itself: it must be able to fail.
    const fit::LagNoise band{.white = 0.003, .band = 0.01, .correlation = 0.03};
    const Outcome out = run({LawKind::exponential,
                             Offset::Kind::free,
                             {1, 0.05},
                             {1.2},
                             band,
                             fit::Scatter::from_residuals,
                             1000});
    for (const int covered : out.covered) EXPECT_LT(covered, 700);
}

TEST(ProfileIntervals, CoverWhereTheSurfaceIsNoParabola) {
    // Two time constants a factor of 2 apart under 0.2 % noise: the shorter one's interval is lopsided.
    const fit::Law law = decay::law_of(LawKind::two_exponentials, {});
    const std::vector<double> amplitudes{0.5, 0.5}, shape{0.5, 1.0};
    fit::CurveStore curve;
    for (int i = 0; i < 200; ++i) curve.x.push_back(0.025 * i);
    const std::vector<double> clean = fit::values_of(law, amplitudes, shape, curve.x);
    int covered = 0;
    for (int trial = 0; trial < trials; ++trial) {
        std::mt19937_64 random(seed_base + static_cast<std::uint64_t>(trial));
        std::normal_distribution<double> normal;
        curve.y = clean;
        for (double& y : curve.y) y += 0.002 * normal(random);
        const fit::Spread spread{fit::Scatter::from_residuals};
        const fit::Fit found = fit::fit(law, curve.view(), spread);
        const auto interval = fit::profile_interval(law, curve.view(), spread, found, 3, 0.95);
        if (!interval) continue;
        covered += (!interval->low || *interval->low <= 1.0) && (!interval->high || 1.0 <= *interval->high);
    }
    EXPECT_GE(covered, 921);
    EXPECT_LE(covered, 975);
}

}  // namespace
}  // namespace ebbtide
