#pragma once
// The curves of one specimen: linear above, logarithmic below, levels and crossings marked.

#include <optional>
#include <span>
#include <string>

#include "judge/judgement.hpp"
#include "report/picture.hpp"
#include "report/report.hpp"

namespace ebbtide::report {

struct PlottedRun {
    const judge::JudgedRun* run = nullptr;
    const PlotTrace* trace = nullptr;
};

/// Time after the release that the plot of these runs should show, in seconds: past the last crossing, or the
/// whole record where a level was not reached. Absent when no run has a curve.
[[nodiscard]] std::optional<double> wanted_time_s(std::span<const PlottedRun> runs);

/// The picture, `width` points wide. Runs that do not count are muted. `time_s` > 0: length of the time axis
/// after the release.
[[nodiscard]] Picture trace_plot(const std::string& title, const std::string& subtitle,
                                 std::span<const PlottedRun> runs, double time_s, double width);

}  // namespace ebbtide::report
