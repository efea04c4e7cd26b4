#include "sheet/ring_electrode.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace ebbtide::sheet {
namespace {

TEST(RingElectrode, HasTheFactorsOfTheCommonRing) {
    const auto rings = ring_electrode(0.0305, 0.0572);
    ASSERT_TRUE(rings.ok());
    // Common ring of 30.5 and 57.2 mm: 2 pi / ln 1.8754 = 9.992 (formula from memory, worked out in R).
    EXPECT_NEAR(rings->factor(), 9.992, 5e-4);
    // The same ring by P / g of ASTM D257, P = pi (D1 + D2) / 2, g = (D2 - D1) / 2: 10.32 (P/g seen in a
    // general reference text).
    EXPECT_NEAR(rings->perimeter_over_gap(), 10.32, 5e-3);
}

TEST(RingElectrode, GivesOneFactorForANarrowGapHoweverItIsReckoned) {
    // ln(1 + x) = x / (1 + x/2) to the third order: both are the perimeter over the gap.
    const auto rings = ring_electrode(0.1, 0.101);
    ASSERT_TRUE(rings.ok());
    EXPECT_NEAR(rings->factor() / rings->perimeter_over_gap(), 1, 1e-5);
}

TEST(RingElectrode, RefusesWhatIsNoRing) {
    for (const auto& [inner, outer] :
         {std::pair{0.0, 1.0}, {-1.0, 1.0}, {2.0, 1.0}, {1.0, 1.0}, {1.0, HUGE_VAL}})
        EXPECT_FALSE(ring_electrode(inner, outer).ok()) << inner << " " << outer;
    EXPECT_FALSE(ring_electrode(std::nan(""), 1).ok());
}

TEST(RingComparison, AgreesWhereTheIntervalsMeetAndSaysWhenElectrodesAloneExplainIt) {
    const RingElectrode rings{0.0305, 0.0572};
    const double resistance = 1e11 / rings.factor();
    const RingComparison same = compare_with_rings(1.05e11, 0.95e11, 1.16e11, rings, resistance, 0.05);
    EXPECT_NEAR(same.ring_ohm_sq, 1e11, 1);
    EXPECT_NEAR(same.ratio, 1.05, 1e-12);
    EXPECT_TRUE(same.agree);
    EXPECT_LT(same.low, same.ratio);
    EXPECT_GT(same.high, same.ratio);
    const RingComparison other = compare_with_rings(1.5e11, 1.45e11, 1.55e11, rings, resistance, 0.01);
    EXPECT_FALSE(other.agree);
    EXPECT_TRUE(other.within_electrodes) << "rings of one standard differed by 1.8";
    EXPECT_FALSE(compare_with_rings(3e11, 2.9e11, 3.1e11, rings, resistance, 0.01).within_electrodes);
}

}  // namespace
}  // namespace ebbtide::sheet
