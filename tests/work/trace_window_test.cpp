// A thinned trace shows every extreme of the samples, whatever the window.

#include "work/trace_window.hpp"

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <functional>

namespace {

using namespace ebbtide;

struct Recorded {
    trace::SampleStore store;
    work::Extremes extremes;
};

Recorded recorded(std::size_t count, double interval_s, const std::function<double(std::size_t)>& value) {
    Recorded out;
    for (std::size_t i = 0; i < count; ++i) {
        out.store.time_s.push_back(interval_s * static_cast<double>(i));
        out.store.value.push_back(value(i));
    }
    out.extremes = work::Extremes(out.store.value);
    return out;
}

RC_GTEST_PROP(Extremes, AreThoseOfTheSamples, ()) {
    // Few different values: ties are frequent, and the first of them counts. More than one tier of blocks.
    const auto count = *rc::gen::inRange<std::size_t>(1, 20'000);
    const auto seed = *rc::gen::inRange<std::uint64_t>(1, 1'000'000);
    std::vector<double> value(count);
    std::uint64_t state = seed;
    for (double& one : value) {
        state = state * 6364136223846793005u + 1442695040888963407u;
        one = static_cast<double>(state >> 58);
    }
    const work::Extremes extremes(value);
    const auto first = *rc::gen::inRange<std::size_t>(0, count);
    const auto last = *rc::gen::inRange<std::size_t>(first + 1, count + 1);
    const auto begin = value.begin() + static_cast<std::ptrdiff_t>(first),
               end = value.begin() + static_cast<std::ptrdiff_t>(last);
    const auto [low, high] = extremes.of(value, first, last);
    RC_ASSERT(low == static_cast<std::size_t>(std::min_element(begin, end) - value.begin()));
    RC_ASSERT(high == static_cast<std::size_t>(std::max_element(begin, end) - value.begin()));
}

RC_GTEST_PROP(TraceWindow, LosesNoExtreme, ()) {
    const auto count = *rc::gen::inRange<std::size_t>(1, 3000);
    const auto columns = *rc::gen::inRange<std::size_t>(1, 80);
    const auto values = *rc::gen::container<std::vector<int>>(count, rc::gen::inRange(-5000, 5000));
    const Recorded run = recorded(count, 0.01, [&](std::size_t i) { return values[i]; });
    const double from_s = 0.01 * *rc::gen::inRange(-10, static_cast<int>(count)),
                 to_s = from_s + 0.01 * *rc::gen::inRange(0, static_cast<int>(count) + 10);
    const auto window = work::trace_window(run.store.view(), run.extremes, from_s, to_s, columns);
    std::vector<double> inside;
    for (std::size_t i = 0; i < count; ++i)
        if (run.store.time_s[i] >= from_s && run.store.time_s[i] <= to_s)
            inside.push_back(run.store.value[i]);
    RC_ASSERT(window.in_window == inside.size());
    RC_ASSERT(window.value.size() == window.time_s.size());
    RC_ASSERT(window.value.size() <= std::max(2 * columns, std::size_t{1}));
    RC_ASSERT(std::is_sorted(window.time_s.begin(), window.time_s.end()));
    RC_ASSERT(window.thinned == (inside.size() > 2 * columns));
    if (!window.thinned) RC_ASSERT(window.value == inside);
    if (inside.empty()) return;
    RC_ASSERT(std::ranges::min(window.value) == std::ranges::min(inside));
    RC_ASSERT(std::ranges::max(window.value) == std::ranges::max(inside));
    // Each point is a sample, at its own time.
    for (std::size_t i = 0; i < window.value.size(); ++i) {
        const auto at = static_cast<std::size_t>(std::lround(window.time_s[i] / 0.01));
        RC_ASSERT(run.store.value.at(at) == window.value[i]);
    }
}

TEST(TraceWindow, ShowsASpikeOfOneSampleAmongTenMillion) {
    const Recorded run = recorded(10'000'000, 1e-5, [](std::size_t i) {
        return i == 7'654'321 ? -9999.0 : static_cast<double>(i % 1000);
    });
    double quickest_s = 1e9;
    for (int attempt = 0; attempt < 5; ++attempt) {
        const auto began = std::chrono::steady_clock::now();
        const auto whole = work::trace_window(run.store.view(), run.extremes, 0, 100, 1000);
        const auto near = work::trace_window(run.store.view(), run.extremes, 76.5432, 76.5433, 1000);
        quickest_s = std::min(
            quickest_s, std::chrono::duration<double>(std::chrono::steady_clock::now() - began).count());
        EXPECT_EQ(whole.in_window, 10'000'000u);
        EXPECT_LE(whole.value.size(), 2000u);
        EXPECT_EQ(std::ranges::min(whole.value), -9999.0);
        EXPECT_FALSE(near.thinned);
        EXPECT_EQ(std::ranges::min(near.value), -9999.0);
    }
#ifndef __SANITIZE_ADDRESS__
    // A millisecond or so, the quickest of five: another may have the processor. Looking at every sample
    // takes ten times as long.
    EXPECT_LT(quickest_s, 0.02);
#endif
}

}  // namespace
