#pragma once
// A run of what hangs in the clamps instead of a specimen, held against what a bench check must find.

#include <optional>
#include <vector>

#include "bench/bench_check.hpp"
#include "decay/figures.hpp"
#include "plan/bench.hpp"
#include "work/measure.hpp"

namespace ebbtide::work {

/// How such a run is measured: by the rules of `measure`, the check standard to its own level too. No law is
/// asked for.
[[nodiscard]] MeasureRequest reference_request(plan::Mounted mounted,
                                               const std::optional<plan::Bench>& bench);

/// What the run of a step of a bench check showed, zero and volts as its figures have them. Where the
/// electrode was not recorded nothing was held. The run loses flags that speak of a specimen's charge.
[[nodiscard]] bench::CheckReading reading_of(MeasuredRun& run, const bench::CheckStep& step,
                                             const plan::CheckLimits& limits);

/// The figures of a bench check that this one run gives, with their limits: its zero, where that is proven;
/// and the span of the plate, the induced fraction of the empty fixture, the decay time of the check
/// standard, or what the blank accepted. None without a table [check]. The run gets `bench_check_failed`
/// where one of them is not within its limits, or could not be taken; it loses flags that speak of a
/// specimen's charge.
std::vector<bench::CheckFigure> hold_against_check(MeasuredRun& run, plan::Mounted mounted,
                                                   const std::optional<plan::Bench>& bench);

}  // namespace ebbtide::work
