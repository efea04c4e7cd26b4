// Risks of decisions against figures printed elsewhere. Those that the program checks on the user's computer,
// the examples of JCGM 106 among them, stand in src/validation/decision_checks.cpp.

#include "judge/risk.hpp"

#include <gtest/gtest.h>

#include <array>
#include <boost/math/distributions/normal.hpp>
#include <cmath>
#include <string_view>

#include "support/agrees.hpp"

namespace ebbtide::judge {
namespace {

using testing_support::agrees;

double normal_quantile(double probability) {
    return boost::math::quantile(boost::math::normal(), probability);
}

// ILAC-G8:09/2019: bounds on the risk of a value accepted at the guarded limit, U = 2 u. w = U was read in
// secondary accounts of it (consultancies and certification bodies); 3 U, 1.5 U and 0.83 U (ISO 14253-1:2017)
// are from memory.
TEST(SpecificRisk, AtTheGuardedLimitIsBelowTheBoundsOfTheGuidelines) {
    const auto at_guard = [](double times_U) { return probability_beyond({-2 * times_U, 1}, {{}, 0.0}); };
    EXPECT_LT(at_guard(1), 0.025);
    EXPECT_LT(at_guard(3), 1e-6);
    EXPECT_LT(at_guard(1.5), 0.0016);
    EXPECT_LT(at_guard(0.83), 0.05);
}

// suncal (sandialabs/suncal, commit d44c2cc1, test/test_risk.py): process N(10, 0.4), limits 9 and 11. Its
// index is the distance of the nearer limit in three standard deviations.
TEST(SpecificRisk, OfACentredProcess) {
    EXPECT_TRUE(agrees((11 - 10) / (3 * 0.4), "0.8333"));
    EXPECT_TRUE(agrees(probability_beyond({10, 0.4}, {{}, 11.0}), "0.00621"));
    EXPECT_TRUE(agrees(probability_beyond({10, 0.4}, {9.0, {}}), "0.00621"));
}

// The same file, off centre and beyond a limit.
TEST(SpecificRisk, OfAProcessOffCentre) {
    EXPECT_TRUE(agrees(probability_beyond({10.5, 0.4}, {9.0, 11.0}), "0.10574"));
    EXPECT_TRUE(agrees(probability_beyond({12.0, 0.4}, {9.0, 11.0}), "0.99379"));
}

// The same file, tables of a draft of a recommended practice. Convention: limits -1 and 1; the prior is
// centred and its standard deviation puts the share named within the limits, s = 1/Phi^-1((1 + share)/2); the
// measurement has u = s/4, the prior's standard deviation (not the limit) over the ratio of four; no guard
// band. The first figure is the consumer's risk of all pieces in percent, the second that of the accepted
// ones. The source compares its table to 1e-6 (100 units of the last digit printed), and no better is it: the
// third figure is the first by another rule of quadrature (references/global_risk.py).
TEST(GlobalRisk, AtARatioOfFourForSixSharesWithinTheLimits) {
    struct Row {
        double share;
        std::string_view of_all_percent, of_accepted_percent, of_all_again_percent;
    };
    constexpr std::array rows{Row{.6, "4.83860326", "8.26008199", "4.8386032085"},
                              Row{.7, "3.92234109", "5.72322042", "3.9223410710"},
                              Row{.8, "2.85583037", "3.63227145", "2.8558306210"},
                              Row{.9, "1.59995312", "1.79880430", "1.5999535305"},
                              Row{.95, "0.87100925", "0.92389664", "0.8710101881"},
                              Row{.99, "0.19991684", "0.20243866", "0.1999169629"}};
    for (const Row& row : rows) {
        const double s = 1 / normal_quantile((1 + row.share) / 2);
        const GlobalRisk risk = global_risk({0, s}, s / 4, {-1.0, 1.0}, 0);
        EXPECT_TRUE(agrees(100 * risk.consumer, row.of_all_percent, 100)) << row.share;
        EXPECT_TRUE(agrees(100 * risk.consumer, row.of_all_again_percent)) << row.share;
        // Accepted are the conforming ones that were not rejected, and the wrongly accepted.
        const double accepted = row.share - risk.producer + risk.consumer;
        EXPECT_TRUE(agrees(100 * risk.consumer / accepted, row.of_accepted_percent, 100)) << row.share;
    }
}

// The same file, after a paper on test uncertainty (Deaver, page 10): u half the prior's standard deviation,
// limits -2 and 2, acceptance within 0.91 of them.
TEST(GlobalRisk, WithAGuardBand) {
    const GlobalRisk risk = global_risk({0, 1}, 0.5, {-2.0, 2.0}, 2 - 2 * 0.91);
    EXPECT_TRUE(agrees(risk.consumer, "0.008"));
    // The source compares this one to 0.001, so that its last digit is not sure.
    EXPECT_TRUE(agrees(risk.producer, "0.066", 1));
}

// JCGM 106:2012, 9.5.3 (figures and clause from memory; the example of the next clause, on bearings, needs a
// prior that is not normal): resistors of 1500 ohm within 0.2 ohm, made with a standard deviation of 0.12
// ohm, measured with u 0.04 ohm, accepted from 1499.82 to 1500.18 ohm. Consumer's risk 1 %, producer's 7 %.
TEST(GlobalRisk, OfTheGuidesResistors) {
    const GlobalRisk risk = global_risk({1500, 0.12}, 0.04, {1499.8, 1500.2}, 0.02);
    EXPECT_TRUE(agrees(risk.consumer, "0.01"));
    EXPECT_TRUE(agrees(risk.producer, "0.07"));
}

// JCGM 106:2012, the examples of 7.3 and 7.4 (from memory): a breakdown voltage of -5.47 V with u 0.05 V
// against an upper limit of -5.40 V conforms with 92 %; a viscosity of 13.6 mm2/s with u 1.8 mm2/s
// within 12.5 and 16.3 with 66 %. More digits are R's, pnorm().
TEST(SpecificRisk, OfTheGuidesExamples) {
    EXPECT_TRUE(agrees(probability_within({-5.47, 0.05}, {{}, -5.40}), "0.92"));
    EXPECT_TRUE(agrees(probability_within({-5.47, 0.05}, {{}, -5.40}), "0.9192433"));
    EXPECT_TRUE(agrees(probability_within({13.6, 1.8}, {12.5, 16.3}), "0.66"));
    EXPECT_TRUE(agrees(probability_within({13.6, 1.8}, {12.5, 16.3}), "0.6626"));
}

// Page 7, paragraph 2: limits of 2.5 standard deviations, u a quarter of one.
TEST(GlobalRisk, OfALimitOfTwoAndAHalfStandardDeviations) {
    EXPECT_TRUE(agrees(global_risk({0, 1}, 0.25, {-2.5, 2.5}, 0).consumer, "0.0025", 1));
}

}  // namespace
}  // namespace ebbtide::judge
