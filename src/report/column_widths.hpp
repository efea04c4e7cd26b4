#pragma once
// How the columns of a table share the width of the text.

#include <vector>

namespace ebbtide::report {

struct ColumnNeed {
    double least = 0;      ///< its widest word, or its widest line where lines stay whole
    double wanted = 0;     ///< its whole text on one line; at least `least`
    bool elastic = false;  ///< takes what is left over when every column has what it wants
};

/// Widths that together make `room`, or less where no column is elastic. Where the least do not fit, all
/// shrink alike and words are broken. Where there is room to spare it goes to the elastic columns; without
/// any, all grow by half at most.
[[nodiscard]] std::vector<double> share_room(const std::vector<ColumnNeed>& needs, double room);

/// Whether every column can have its least.
[[nodiscard]] bool least_fits(const std::vector<ColumnNeed>& needs, double room);

}  // namespace ebbtide::report
