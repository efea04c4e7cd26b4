// Do the intervals of decay times that a record does not reach hold what they promise? Everything fixed
// before the run:
//   truth      V0 = 1000 V; exp(-t); half exp(-t/0.3) and half exp(-t/2.2); exp(-t^0.6); 1/(1+t)
//   record     from the release to where the truth has fallen to 40 % (300 samples, white noise of 0.5 % of
//              V0) or to 25 % (800 samples, noise of 0.3 % with a memory of three samples, 0.1 % white)
//   asked      t(10 %) of the law's own start, and t(1/e) where the record ends at 40 %
//   N, seeds   1,000 a setting, seeds 20,261,130 + trial (4,000 with EBBTIDE_LONG, and all laws under noise
//              with a memory; in CI two of them)
// Law known: 921 to 975 of 1,000 intervals at 95 % cover the truth (93 to 97 % of 4,000), and their median
// width is at most 1.25 times an oracle's, who knows law and noise: the profile on the noise-free curve with
// known variance.
// Law not known, average over the candidates: at least 921 of 1,000 cover (a mixture may be wide, so the
// lower side only); 250 of each truth together in CI. Median width over the oracle's: at most 5 for the
// exponential, 2 for two exponentials and the stretched one, 10 for the power law, whose records two
// exponentials describe as well. These four bounds were chosen after a pilot of 200 trials with other seeds
// (3.1, 1.1, 1.0, 7.2): they are what not knowing the law costs here, not what theory asks for.

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <limits>
#include <random>

#include "decay/extrapolation.hpp"

namespace ebbtide {
namespace {

using decay::LawKind;
using plan::Level;

const Level tenth{Level::Kind::fraction, 0.1, "0.1"};
const Level one_over_e{Level::Kind::fraction, std::exp(-1.0), "1/e"};
constexpr std::uint64_t seed_base = 20'261'130;

bool long_run() {
    return std::getenv("EBBTIDE_LONG") != nullptr;
}

struct Truth {
    LawKind kind;
    std::vector<double> amplitudes, shape;
    double most_width;  // of the average, over the oracle's

    [[nodiscard]] fit::Law law() const { return decay::law_of(kind, {}); }
    [[nodiscard]] double at(double t_s) const {
        return fit::values_of(law(), amplitudes, shape, std::vector<double>{t_s}).front();
    }
    [[nodiscard]] double time_to(double fraction) const {
        double low = 0, high = 1000;
        for (int halving = 0; halving < 60; ++halving) {
            const double middle = (low + high) / 2;
            (at(middle) > 1000 * fraction ? low : high) = middle;
        }
        return high;
    }
};

const std::vector<Truth> truths{{LawKind::exponential, {1000}, {1}, 5},
                                {LawKind::two_exponentials, {500, 500}, {0.3, 2.2}, 2},
                                {LawKind::stretched, {1000}, {1, 0.6}, 2},
                                {LawKind::power, {1000}, {1, 1}, 10}};

struct Record {
    double hidden_from;  // fraction of V0 at which it ends
    int samples;
    double white_V, band_V, memory_samples;
    std::vector<Level> levels;
};

const Record early{0.4, 300, 5, 0, 0, {tenth, one_over_e}};
const Record remembering{0.25, 800, 1, 3, 3, {tenth}};

fit::CurveStore clean(const Truth& truth, const Record& record) {
    fit::CurveStore out;
    const double length_s = truth.time_to(record.hidden_from);
    for (int i = 0; i < record.samples; ++i) out.x.push_back(length_s * i / record.samples);
    out.y = fit::values_of(truth.law(), truth.amplitudes, truth.shape, out.x);
    return out;
}

void add_noise(fit::CurveStore& curve, const Record& record, std::uint64_t seed) {
    std::mt19937_64 random(seed);
    std::normal_distribution<double> normal;
    const double keep = record.memory_samples > 0 ? std::exp(-1 / record.memory_samples) : 0;
    double band = normal(random);
    for (double& y : curve.y) {
        y += record.white_V * normal(random) + record.band_V * band;
        band = keep * band + std::sqrt(1 - keep * keep) * normal(random);
    }
}

/// Widths at each level of one who knows the law and the noise.
std::vector<double> oracle_widths(const Truth& truth, const Record& record) {
    const fit::CurveStore curve = clean(truth, record);
    const fit::LagNoise noise{record.white_V, record.band_V, record.memory_samples * curve.x[1]};
    decay::LawChoice choice;
    choice.scatter = fit::Scatter::stated_noise;
    choice.chosen = 0;
    choice.models.push_back(
        {truth.kind, truth.law(),
         fit::fit_from(truth.law(), curve.view(), {fit::Scatter::stated_noise, noise}, truth.shape)});
    const auto found = decay::extrapolate(choice, curve.view(), record.levels, {});
    std::vector<double> out;
    for (const auto& time : found.by_model.at(0)) out.push_back(time.high_s.value() - time.low_s.value());
    return out;
}

struct Tally {
    int covered = 0, before = 0, after = 0;  // truth inside, before and after the interval
    int unbounded = 0;
    std::vector<double> widths;

    void count(const decay::Extrapolated& time, double truth_s, double end_s) {
        const double low = time.low_s.value_or(end_s);
        const double high = time.high_s.value_or(std::numeric_limits<double>::infinity());
        const bool never = !time.low_s && !time.high_s && !time.decay_s;
        (truth_s < low || never ? before : truth_s > high ? after : covered) += 1;
        unbounded += !time.high_s;
        widths.push_back(high - low);
    }
    [[nodiscard]] double median_width() {
        if (widths.empty()) return std::numeric_limits<double>::infinity();
        const auto middle = widths.begin() + static_cast<std::ptrdiff_t>(widths.size() / 2);
        std::ranges::nth_element(widths, middle);
        return *middle;
    }
    void print(const Truth& truth, const Record& record, const Level& level, double width_ratio) const {
        std::printf(
            "%s hidden at %.0f %%, t(%s): %d of %zu covered (%d before, %d after), %d unbounded, "
            "width over the oracle's %.3f\n",
            std::string(decay::name_of(truth.kind)).c_str(), 100 * record.hidden_from, level.text.c_str(),
            covered, widths.size(), before, after, unbounded, width_ratio);
    }
};

/// Tallies by level; of the true law alone, or of the average.
std::vector<Tally> run(const Truth& truth, const Record& record, const std::vector<LawKind>& kinds,
                       bool average, int first, int trials) {
    std::vector<Tally> out(record.levels.size());
    const fit::CurveStore without_noise = clean(truth, record);
    for (int trial = first; trial < first + trials; ++trial) {
        fit::CurveStore curve = without_noise;
        add_noise(curve, record, seed_base + static_cast<std::uint64_t>(trial));
        const auto choice = decay::choose_law(curve.view(), kinds, {}, fit::Scatter::correlated_residuals);
        const auto found = decay::extrapolate(choice, curve.view(), record.levels, {});
        const auto& times = average ? found.averaged : found.by_model.at(0);
        for (std::size_t k = 0; k < times.size(); ++k)
            out[k].count(times[k], truth.time_to(record.levels[k].value), curve.x.back());
    }
    return out;
}

void expect_honest_when_the_law_is_known(const Truth& truth, const Record& record) {
    const int trials = long_run() ? 4000 : 1000;
    std::vector<Tally> found = run(truth, record, {truth.kind}, false, 0, trials);
    const std::vector<double> oracle = oracle_widths(truth, record);
    for (std::size_t k = 0; k < found.size(); ++k) {
        const double ratio = found[k].median_width() / oracle[k];
        found[k].print(truth, record, record.levels[k], ratio);
        EXPECT_EQ(found[k].widths.size(), static_cast<std::size_t>(trials));
        EXPECT_GE(found[k].covered, long_run() ? 3720 : 921) << decay::name_of(truth.kind);
        EXPECT_LE(found[k].covered, long_run() ? 3880 : 975) << decay::name_of(truth.kind);
        EXPECT_LE(ratio, 1.25) << decay::name_of(truth.kind);
    }
}

TEST(ExtrapolatedTimes, CoverUnderWhiteNoiseWhenTheLawIsKnown) {
    for (const Truth& truth : truths) expect_honest_when_the_law_is_known(truth, early);
}

TEST(ExtrapolatedTimes, CoverUnderBandLimitedNoiseWhenTheLawIsKnown) {
    for (const Truth& truth : truths)
        if (long_run() || truth.kind == LawKind::two_exponentials || truth.kind == LawKind::power)
            expect_honest_when_the_law_is_known(truth, remembering);
}

TEST(ExtrapolatedTimes, CoverWhenNobodyKnowsTheLaw) {
    std::vector<LawKind> kinds{LawKind::exponential, LawKind::two_exponentials, LawKind::stretched,
                               LawKind::power};
    if (long_run()) kinds.push_back(LawKind::three_exponentials);
    const int each = long_run() ? 4000 : 250;
    int covered = 0, first = 0;
    for (const Truth& truth : truths) {
        Record record = early;
        record.levels = {tenth};
        Tally found = run(truth, record, kinds, true, first, each).front();
        const double ratio = found.median_width() / oracle_widths(truth, record).front();
        found.print(truth, record, tenth, ratio);
        EXPECT_EQ(found.widths.size(), static_cast<std::size_t>(each));
        EXPECT_LE(ratio, truth.most_width) << decay::name_of(truth.kind);
        if (long_run()) {
            EXPECT_GE(found.covered, 3720) << decay::name_of(truth.kind);
        }
        covered += found.covered;
        first += each;
    }
    EXPECT_GE(covered, long_run() ? 4 * 3720 : 921);
}

TEST(ExtrapolatedTimes, OfAWrongLawDoNotCover) {
    // Guards the study itself: it must be able to fail.
    const Tally wrong = run(truths[3], early, {LawKind::stretched}, false, 0, 200).front();
    EXPECT_LT(wrong.covered, 100);
}

}  // namespace
}  // namespace ebbtide
