#pragma once
// How a law fits: the fall with the law through it, and what is left in a strip below.

#include <span>
#include <string>
#include <vector>

#include "decay/law_figures.hpp"
#include "report/picture.hpp"
#include "report/trace_plot.hpp"

namespace ebbtide::report {

/// Time is shown by its logarithm: the points lie closer the earlier they are.
[[nodiscard]] bool wants_decades(std::span<const decay::ResidualPoint> residuals);

/// One run: its fall with the law above, block means of the residuals with their 95 % band below. `run` has
/// residuals; its trace may be missing.
[[nodiscard]] Picture fit_plot(const std::string& title, const std::string& subtitle, const PlottedRun& run,
                               double width);

/// Residuals of the runs of one panel, in units of their noise.
struct ResidualPanel {
    std::string title;
    std::vector<const judge::JudgedRun*> runs;
};

/// Panels side by side on one width, as many as fit; all share their scales.
[[nodiscard]] std::vector<Picture> residual_panels(std::span<const ResidualPanel> panels, double width);

}  // namespace ebbtide::report
