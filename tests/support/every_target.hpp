#pragma once
// Kernels are compiled once for each instruction set: a test runs them all.

#include <hwy/highway.h>
#include <hwy/targets.h>

#include <functional>

namespace ebbtide::test {

/// Runs `body` once for each instruction set that was compiled and that this processor has.
inline void on_every_target(const std::function<void()>& body) {
    const std::int64_t all = hwy::SupportedTargets() & HWY_TARGETS;
    for (std::int64_t left = all; left != 0; left &= left - 1) {
        hwy::SetSupportedTargetsForTest(left & -left);
        hwy::GetChosenTarget().Update(hwy::SupportedTargets());
        body();
    }
    hwy::SetSupportedTargetsForTest(0);
    hwy::GetChosenTarget().Update(hwy::SupportedTargets());
}

}  // namespace ebbtide::test
