#include "lanes/last_above.hpp"

#include <gtest/gtest.h>
#include <hwy/targets.h>
#include <rapidcheck/gtest.h>

#include <functional>
#include <vector>

namespace ebbtide::lanes {
namespace {

std::optional<std::size_t> plainly(const std::vector<double>& values, double threshold) {
    std::optional<std::size_t> last;
    for (std::size_t i = 0; i < values.size(); ++i)
        if (values[i] > threshold) last = i;
    return last;
}

/// Runs `body` once for each instruction set that this processor has.
void on_every_target(const std::function<void()>& body) {
    const std::int64_t all = hwy::SupportedTargets();
    for (std::int64_t left = all; left != 0; left &= left - 1) {
        hwy::SetSupportedTargetsForTest(left & -left);
        hwy::GetChosenTarget().Update(hwy::SupportedTargets());
        body();
    }
    hwy::SetSupportedTargetsForTest(0);
    hwy::GetChosenTarget().Update(hwy::SupportedTargets());
}

TEST(LastAbove, IsNothingWhenNoValueIsAbove) {
    EXPECT_FALSE(last_above({}, 0));
    EXPECT_FALSE(last_above(std::vector<double>(1000, 1.0), 1.0));
}

TEST(LastAbove, FindsEveryPlaceInEveryLengthOnEveryInstructionSet) {
    on_every_target([] {
        for (std::size_t length = 1; length < 150; ++length)
            for (std::size_t place = 0; place < length; ++place) {
                std::vector<double> values(length, -1.0);
                values[place] = 2;
                ASSERT_EQ(last_above(values, 1.5), place) << length;
            }
    });
}

TEST(LastAbove, FindsAllLevelsOfALongFallAtOnce) {
    std::vector<double> fall(10'001);
    for (std::size_t i = 0; i < fall.size(); ++i) fall[i] = static_cast<double>(fall.size() - i);
    const std::vector<double> levels{0.5, 5000, 9999.5, 20'000, 1};
    on_every_target([&] {
        std::vector<std::optional<std::size_t>> found(levels.size());
        last_above(fall, levels, found);
        for (std::size_t k = 0; k < levels.size(); ++k)
            EXPECT_EQ(found[k], plainly(fall, levels[k])) << levels[k];
    });
}

RC_GTEST_PROP(LastAbove, AgreesWithAPlainLoopOnEveryInstructionSet,
              (std::vector<int> numbers, int threshold)) {
    const std::vector<double> values(numbers.begin(), numbers.end());
    on_every_target([&] { RC_ASSERT(last_above(values, threshold) == plainly(values, threshold)); });
}

}  // namespace
}  // namespace ebbtide::lanes
