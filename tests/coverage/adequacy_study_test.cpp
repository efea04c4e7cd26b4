// How often is a right law called inadequate? One trace in a thousand is stated. Number of traces and seeds
// are fixed before the run: N = 1000, seed 20,261,127 + trace, for each kind of record. At the stated rate
// more than 5 alarms have a chance of 0.0006.

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <random>

#include "decay/adequacy.hpp"
#include "decay/law.hpp"

namespace ebbtide {
namespace {

constexpr int traces = 1000;
constexpr std::uint64_t seed_base = 20261127;

struct Record {
    std::size_t samples;
    bool even;             ///< or as many in each decade from 5 ms to 5 s
    double correlation_s;  ///< of the noise; 0: white
};

/// Exponential of 1000 V and 1 s under 1 % noise.
int alarms_of(const Record& record) {
    const fit::Law law = decay::law_of(decay::LawKind::exponential, {});
    fit::CurveStore curve;
    for (std::size_t i = 0; i < record.samples; ++i) {
        const double part = static_cast<double>(i) / static_cast<double>(record.samples - 1);
        curve.x.push_back(record.even ? 5 * part : 0.005 * std::pow(1000.0, part));
    }
    const std::vector<double> clean = fit::values_of(law, std::vector{1000.0}, std::vector{1.0}, curve.x);
    int alarms = 0, judged = 0;
    for (int trace = 0; trace < traces; ++trace) {
        std::mt19937_64 random(seed_base + static_cast<std::uint64_t>(trace));
        std::normal_distribution<double> normal;
        curve.y = clean;
        double noise = normal(random);
        for (std::size_t i = 0; i < record.samples; ++i) {
            if (i > 0) {
                const double gap_s = curve.x[i] - curve.x[i - 1];
                const double keep = record.correlation_s > 0 ? std::exp(-gap_s / record.correlation_s) : 0;
                noise = keep * noise + std::sqrt(1 - keep * keep) * normal(random);
            }
            curve.y[i] += 10 * noise;
        }
        const fit::Fit fit = fit::fit_from(law, curve.view(), {fit::Scatter::from_residuals}, {1.0});
        const auto adequacy = decay::judge_adequacy(law, fit, curve.view());
        judged += adequacy.has_value();
        alarms += adequacy && !adequacy->adequate;
    }
    EXPECT_EQ(judged, traces);
    return alarms;
}

TEST(AlarmsOfARightLaw, AreAsRareAsStated) {
    for (const Record& record :
         {Record{12, true, 0}, Record{30, true, 0.3}, Record{30, false, 0.02}, Record{300, true, 0},
          Record{300, false, 0.02}, Record{3000, true, 0}, Record{3000, true, 0.02}}) {
        const int alarms = alarms_of(record);
        EXPECT_LE(alarms, 5) << record.samples << " " << record.even << " " << record.correlation_s;
        std::printf("%zu samples, %s, noise of %g s: %d of %d\n", record.samples,
                    record.even ? "even" : "by decades", record.correlation_s, alarms, traces);
    }
}

}  // namespace
}  // namespace ebbtide
