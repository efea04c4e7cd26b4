#pragma once
// Recorded numbers in volts, and which of them no bench reads.

#include <optional>
#include <string>
#include <vector>

#include "plan/bench.hpp"
#include "recording/source.hpp"
#include "trace/samples.hpp"

namespace ebbtide::work {

/// Volts and seconds between which every figure is finite: figures are sums of squares.
inline constexpr double smallest_figure = 1e-50, largest_figure = 1e50;

/// Without a scale the numbers are volts.
[[nodiscard]] std::vector<double> in_volts(const trace::Samples& samples, const plan::VoltageScale* scale);

/// The first sample beyond that reach, above all after its gain, in words ("reads 1e60 (time 0 s), which
/// ..."); nothing where there is none.
[[nodiscard]] std::optional<std::string> no_voltage_in(const recording::ChannelBlock& channel,
                                                       const plan::VoltageScale* scale);

}  // namespace ebbtide::work
