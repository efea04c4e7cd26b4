#pragma once
// Thins a run for plots without changing its look.

#include "decay/figures.hpp"
#include "report/report.hpp"

namespace ebbtide::work {

/// The lowest and the highest sample of each of some hundred stretches before the release, of many in the part of the fall that
/// holds the decay levels, and of some after it.
[[nodiscard]] report::PlotTrace plot_trace(const decay::RunTrace& run, const decay::Figures& figures);

}  // namespace ebbtide::work
