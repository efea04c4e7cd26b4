// Currents that grow with the field faster than by Ohm's law.

#include "lanes/field_currents.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <vector>

#include "support/every_target.hpp"

namespace ebbtide::lanes {
namespace {

TEST(FieldCurrents, AreThoseOfTheirLawOnEveryProcessor) {
    // The law by the C library; the slope by its derivative. 1e-14 of it: two units of the exponential, and
    // as many of a root up to 20.
    test::on_every_target([] {
        for (const std::size_t count : {0u, 1u, 7u, 8u, 9u, 201u}) {
            std::vector<double> across(count), squared(count), G(count), slope(count);
            for (std::size_t i = 0; i < count; ++i) {
                const auto n = static_cast<double>(i);
                across[i] = (i % 3 == 0 ? -1 : 1) * 3.7 * n;
                squared[i] = 0.1 + 0.001 * n;
                G[i] = 1e-9 * (1 + n);
            }
            const std::vector<double> before = across;
            field_currents(across, squared, G, slope);
            std::vector<double> without = before;
            field_currents(without, squared, G, {});
            for (std::size_t i = 0; i < count; ++i) {
                const double root = std::sqrt(std::abs(before[i]) * squared[i]);
                const double I = G[i] * before[i] * std::exp(root),
                             s = G[i] * std::exp(root) * (1 + root / 2);
                EXPECT_NEAR(across[i], I, 1e-14 * std::abs(I)) << i;
                EXPECT_NEAR(slope[i], s, 1e-14 * s) << i;
                EXPECT_EQ(without[i], across[i]) << i;
            }
        }
    });
}

TEST(FieldCurrents, AreNotFiniteBeyondAllBounds) {
    test::on_every_target([] {
        std::vector<double> across{1e6, std::nan(""), 0, 1}, squared{1, 1, 1, 0}, G{1, 1, 1, 2}, slope(4);
        field_currents(across, squared, G, slope);
        EXPECT_TRUE(std::isinf(across[0]));
        EXPECT_TRUE(std::isnan(across[1]));
        EXPECT_EQ(across[2], 0);
        EXPECT_EQ(slope[2], 1);
        EXPECT_EQ(across[3], 2);
    });
}

}  // namespace
}  // namespace ebbtide::lanes
