// What the history of a material says of the next lot.

#include "stats/lot_risk.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include "stats/distributions.hpp"
#include "stats/moments.hpp"
#include "stats/sampling_plan.hpp"
#include "support/agrees.hpp"

namespace ebbtide::stats {
namespace {

using testing_support::agrees;

std::vector<Observation> times_of(const std::vector<double>& logs) {
    std::vector<Observation> out;
    for (const double each : logs) out.push_back(exactly(std::exp(each)));
    return out;
}

const std::vector<double> six{-1.31, -1.02, -1.22, -0.97, -1.15, -1.08};

// The conjugate normal prior of any textbook, by hand: precisions add, means are weighed by them.
TEST(LotRisk, WithAKnownSpreadIsTheTextbooksPosterior) {
    const LotHistory history{-1.2, 0.15, 0.2, {}};
    const Moments moments = moments_of(six);
    const double precision = 1 / (0.15 * 0.15) + 6 / (0.2 * 0.2);
    const double mean = (-1.2 / (0.15 * 0.15) + moments.mean * 6 / (0.2 * 0.2)) / precision;
    for (const double limit : {0.35, 0.42, 0.5}) {
        const double wanted =
            normal_below((std::log(limit) - 1.2815515655446004 * 0.2 - mean) * std::sqrt(precision));
        EXPECT_NEAR(probability_conforming(history, times_of(six), limit, 0.9), wanted, 1e-4) << limit;
    }
}

// A history that says nothing leaves what the sample says, which is the noncentral t of the tolerance factor.
// The spread's prior is not quite empty: half a degree of freedom of a spread near the sample's.
TEST(LotRisk, WithoutAHistoryIsTheConfidenceOfTheBound) {
    const Moments moments = moments_of(six);
    for (const double limit : {0.38, 0.45, 0.6}) {
        const double confidence = confidence_conforming(moments.mean, moments.s(), 6, std::log(limit), 0.9);
        const LotHistory nothing{0, 3, moments.s(), 0.05};
        EXPECT_NEAR(probability_conforming(nothing, times_of(six), limit, 0.9), confidence, 0.005) << limit;
    }
    // At the bound itself the confidence is the one of its factor (3.0063: 90/95 for six).
    EXPECT_NEAR(confidence_conforming(0, 1, 6, 3.0063, 0.9), 0.95, 1e-5);
}

// A lower bound that nobody could reach is no news; one far up makes a lot worse.
TEST(LotRisk, CountsBoundsAsWhatTheyAre) {
    const LotHistory history{-1.2, 0.15, 0.2, 30};
    std::vector<Observation> sample = times_of(six);
    const double without = probability_conforming(history, sample, 0.45, 0.9);
    sample.push_back(at_least(0.01));
    EXPECT_NEAR(probability_conforming(history, sample, 0.45, 0.9), without, 2e-3);
    sample.back() = at_least(0.6);
    EXPECT_LT(probability_conforming(history, sample, 0.45, 0.9), 0.5 * without);
}

// By drawing lots and samples, 40,000 of each, seed 11: within four standard deviations.
TEST(LotRisk, BeforeASampleAgreesWithDrawing) {
    const Claim claim{0.90, 0.95};
    // R 4.2.2: qt(c(0.95, 0.05), 5, qnorm(0.9) * sqrt(6))/sqrt(6).
    const double k_upper = 3.0063, k_lower = 0.5748228168;
    for (const auto& df : {std::optional<double>(), std::optional<double>(20)}) {
        const LotHistory history{-1.2, 0.25, 0.2, df};
        const double limit = 0.45;
        const GlobalLotRisk stated = global_lot_risk(history, 6, limit, claim);
        std::mt19937_64 generator(11);
        std::normal_distribution<double> normal;
        std::chi_squared_distribution<double> chi(df.value_or(1));
        GlobalLotRisk seen;
        constexpr int trials = 40'000;
        for (int trial = 0; trial < trials; ++trial) {
            const double sigma = df ? 0.2 * std::sqrt(*df / chi(generator)) : 0.2;
            const double mu = -1.2 + 0.25 * normal(generator);
            std::vector<double> logs(6);
            for (double& each : logs) each = mu + sigma * normal(generator);
            const Moments moments = moments_of(logs);
            const double upper = moments.mean + k_upper * moments.s();
            const double lower = moments.mean + k_lower * moments.s();
            const Showing showing = upper <= std::log(limit)  ? Showing::shown
                                    : lower > std::log(limit) ? Showing::refuted
                                                              : Showing::open;
            const bool conforming = mu + 1.2815515655446004 * sigma <= std::log(limit);
            seen.conforming += conforming;
            seen.shown += showing == Showing::shown;
            seen.refuted += showing == Showing::refuted;
            seen.consumer += showing == Showing::shown && !conforming;
            seen.producer += showing == Showing::refuted && conforming;
            seen.open_conforming += showing == Showing::open && conforming;
        }
        const auto near = [&](double share, double count) {
            EXPECT_NEAR(share, count / trials, 4 * std::sqrt(share * (1 - share) / trials) + 2e-4);
        };
        near(stated.conforming, seen.conforming);
        near(stated.shown, seen.shown);
        near(stated.refuted, seen.refuted);
        near(stated.consumer, seen.consumer);
        near(stated.producer, seen.producer);
        near(stated.open_conforming, seen.open_conforming);
    }
}

// NIST StRD SiRstv, as in tests/published/lot_test.cpp: mean squares 0.012786540 and 0.010831828, five of
// five, so between^2 = (0.012786540 - 0.010831828)/5 and the mean is known to 0.012786540/25.
TEST(LotHistory, IsAnAnalysisOfVariance) {
    const std::vector<std::vector<double>> lots{{196.3052, 196.1240, 196.1890, 196.2569, 196.3403},
                                                {196.3042, 196.3825, 196.1669, 196.3257, 196.0422},
                                                {196.1303, 196.2005, 196.2889, 196.0343, 196.1811},
                                                {196.2795, 196.1748, 196.1494, 196.1485, 195.9885},
                                                {196.2119, 196.1051, 196.1850, 196.0052, 196.2090}};
    std::vector<LotSummary> summaries;
    for (const auto& lot : lots) {
        const Moments moments = moments_of(lot);
        summaries.push_back({5, moments.mean, moments.variance});
    }
    const auto history = history_of(summaries);
    ASSERT_TRUE(history);
    EXPECT_NEAR(history->within, 0.104076068334656, 1e-9);
    EXPECT_NEAR(history->between * history->between, 0.00195471 / 5 + 0.01278654 / 25, 1e-8);
    EXPECT_EQ(history->degrees_of_freedom, 20);
    EXPECT_FALSE(history_of(std::vector<LotSummary>{{5, 1, 0.1}, {5, 2, 0.1}}));
    EXPECT_FALSE(history_of(std::vector<LotSummary>{{1, 1, 0}, {1, 2, 0}, {1, 3, 0}}));
}

TEST(LotHistory, OfLotsAllAlikeStillLeavesTheNextOneOpen) {
    const auto history = history_of(std::vector<LotSummary>{{5, 1, 0.1}, {5, 1, 0.1}, {5, 1, 0.1}});
    ASSERT_TRUE(history);
    EXPECT_NEAR(history->between, std::sqrt(0.1 / 15), 1e-12);
}

}  // namespace
}  // namespace ebbtide::stats
