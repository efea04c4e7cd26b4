#pragma once
// Which column is the time and which the specimen's voltage: by option, by heading and unit, or, where
// neither tells, not at all: then the error says what was seen and which option settles it.

#include <optional>
#include <string>
#include <vector>

#include "recording/layout.hpp"
#include "recording/source.hpp"

namespace ebbtide::recording {

struct TimeAxis {
    int column = -1;              ///< from 0; -1: the sample's number times the sample interval
    bool clock = false;           ///< dates and times of day instead of numbers
    int time_of_day_column = -1;  ///< where date and time of day stand in two columns; `column` is the date's
    double factor_s = 1;
};

struct ChannelColumn {
    int column = 0;        ///< from 0
    std::size_t axis = 0;  ///< index into ChannelPlan::axes
    bool may_be_empty = false;
    trace::ChannelDescription description;
};

struct ChannelPlan {
    std::vector<TimeAxis> axes;
    std::vector<ChannelColumn> channels;
    std::vector<std::string> remarks;  ///< what was decided, in words
};

/// Errors: no or several columns for the specimen; an option that names no column; no time column and no
/// sample interval; an unknown time unit.
[[nodiscard]] Result<ChannelPlan> plan_channels(const Layout& layout, const ReadOptions& options,
                                                const std::string& name);

}  // namespace ebbtide::recording
