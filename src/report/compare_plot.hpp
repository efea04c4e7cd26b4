#pragma once
// Groups of times under each other on one axis, with the mean of each.

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "report/picture.hpp"
#include "stats/censored.hpp"

namespace ebbtide::report {

struct PlottedGroup {
    std::string name;
    std::vector<stats::Observation> sample;  ///< passes stats::check(); may be empty
    std::optional<double> mean_s;            ///< geometric
    stats::ConfidenceInterval interval;      ///< of mean_s; an end may be absent
};

/// One row a group on an axis of time, logarithmic where times lie far apart. Discs: specimens measured; open
/// discs with a line to the right: longer than that, to the left: shorter; thin bars: between two bounds; a
/// tall bar with a line through it: mean and its interval, written beside. At least one group has a sample.
[[nodiscard]] Picture compare_plot(std::span<const PlottedGroup> groups, double width);

}  // namespace ebbtide::report
