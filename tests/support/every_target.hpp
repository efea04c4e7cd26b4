#pragma once
// Kernels are compiled once for each instruction set: a test runs them all.

#include <hwy/highway.h>
#include <hwy/targets.h>

#include <bit>
#include <cstdint>
#include <functional>

namespace ebbtide::test {

/// Runs `body` with one instruction set, or with all again for 0.
inline void on_target(std::int64_t target, const std::function<void()>& body) {
    hwy::SetSupportedTargetsForTest(target);
    hwy::GetChosenTarget().Update(hwy::SupportedTargets());
    body();
    hwy::SetSupportedTargetsForTest(0);
    hwy::GetChosenTarget().Update(hwy::SupportedTargets());
}

/// Runs `body` once for each instruction set that was compiled and that this processor has.
inline void on_every_target(const std::function<void()>& body) {
    const std::int64_t all = hwy::SupportedTargets() & HWY_TARGETS;
    for (std::int64_t left = all; left != 0; left &= left - 1) on_target(left & -left, body);
}

/// Runs `body` with the narrowest vectors of them: highway numbers them from the widest.
inline void on_narrowest_target(const std::function<void()>& body) {
    const auto all = static_cast<std::uint64_t>(hwy::SupportedTargets() & HWY_TARGETS);
    on_target(static_cast<std::int64_t>(std::bit_floor(all)), body);
}

}  // namespace ebbtide::test
