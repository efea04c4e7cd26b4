#pragma once
// Live events and runs as JSON: docs/formats/live.md.

#include <nlohmann/json.hpp>

#include "work/live_event.hpp"

namespace ebbtide::work {

/// A figure of a bench check, as in ebbtide.bench_check/1.
[[nodiscard]] nlohmann::json json_of(const bench::CheckFigure& figure);
/// What was read during a run, as in ebbtide.drive/1.
[[nodiscard]] nlohmann::json json_of(const RunReadings& readings);
/// A run as in ebbtide.measure/1.
[[nodiscard]] nlohmann::json json_of(const MeasuredRun& run);
/// ebbtide.run/1: the same with `schema`, `recording` and its place in the plan.
[[nodiscard]] nlohmann::json run_line(const RunRecorded& recorded);
/// ebbtide.event/1: any event.
[[nodiscard]] nlohmann::json event_line(const LiveEvent& event);

}  // namespace ebbtide::work
