#pragma once
// The ranges that several kinds of documents share. Their ends are far beyond any bench: they catch slips of
// the unit, not unusual work.

#include "paperwork/table_reader.hpp"

namespace ebbtide::paperwork {

inline constexpr double longest_s = 1e7;

inline constexpr Range positive_V{.least = 0, .most = 1e6, .unit = "V", .least_excluded = true};
inline constexpr Range positive_s{.least = 0, .most = longest_s, .unit = "s", .least_excluded = true};
inline constexpr Range not_negative_s{.least = 0, .most = longest_s, .unit = "s"};
inline constexpr Range hours{.least = 0, .most = 1e5, .unit = "h", .least_excluded = true};
inline constexpr Range humidity_percent{.least = 0, .most = 100, .unit = "%"};
inline constexpr Range temperature_C{.least = -100, .most = 300, .unit = "degrees Celsius"};
inline constexpr Range millimetres{.least = 0, .most = 1e4, .unit = "mm", .least_excluded = true};
inline constexpr Range relative{.least = 0, .most = 1};

}  // namespace ebbtide::paperwork
