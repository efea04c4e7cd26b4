// Sums of vectors in one pass.

#include "lanes/linear_combination.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <vector>

#include "support/every_target.hpp"

namespace ebbtide::lanes {
namespace {

TEST(LinearCombination, AddsWhatALoopAdds) {
    // Rounded once or twice an addition: 6 of them.
    test::on_every_target([] {
        for (const std::size_t count : {0u, 1u, 7u, 8u, 17u, 100u})
            for (std::size_t size = 0; size <= 5; ++size) {
                std::vector<std::vector<double>> vectors(size, std::vector<double>(count));
                std::vector<double> start(count), factors(size), out(count), bare(count);
                std::vector<const double*> at;
                for (std::size_t j = 0; j < size; ++j) {
                    factors[j] = std::cos(static_cast<double>(j));
                    for (std::size_t i = 0; i < count; ++i)
                        vectors[j][i] = std::sin(static_cast<double>(i + 3 * j));
                    at.push_back(vectors[j].data());
                }
                for (std::size_t i = 0; i < count; ++i) start[i] = static_cast<double>(i);
                linear_combination(start, factors, at, out);
                linear_combination({}, factors, at, bare);
                for (std::size_t i = 0; i < count; ++i) {
                    double sum = 0;
                    for (std::size_t j = 0; j < size; ++j) sum += factors[j] * vectors[j][i];
                    EXPECT_NEAR(bare[i], sum, 1e-15 * 6);
                    EXPECT_NEAR(out[i], start[i] + sum, 1e-15 * 6 * (1 + start[i]));
                }
                // In place.
                if (size == 0) continue;
                const std::vector<double> apart = out;
                linear_combination(start, factors, at, start);
                EXPECT_EQ(start, apart);
            }
    });
}

}  // namespace
}  // namespace ebbtide::lanes
