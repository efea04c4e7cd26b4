#pragma once
// Times of day and dates in the cells of loggers: "09:26:53.5", "2026-03-14T09:26:53+01:00", "14.03.2026
// 09:26:53".

#include <cstdint>
#include <optional>
#include <string_view>

namespace ebbtide::recording {

struct ClockTime {
    std::optional<std::int64_t> day;  ///< days since 1970-01-01, where the cell holds a date
    double second_of_day = 0;         ///< 0 for a date alone
    bool has_time = false;
    std::optional<int> zone_minutes;  ///< east of UTC, where the cell states it
};

/// Reads a whole cell (blanks around it allowed). Hours, minutes and seconds, with a fraction behind '.' or
/// ','; a date year first ("2026-03-14", "2026/03/14") or day first with points ("14.03.2026"); with slashes
/// and the year last day and month cannot be told apart: the date is then left out. "Z" or "+01:00" behind.
/// Nothing for anything else.
[[nodiscard]] std::optional<ClockTime> read_clock_time(std::string_view cell);

}  // namespace ebbtide::recording
