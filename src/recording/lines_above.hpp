#pragma once
// The lines above the numbers: headings, units and metadata.

#include <cstdint>
#include <string_view>
#include <vector>

#include "recording/layout.hpp"

namespace ebbtide::recording {

/// A line of the head that is not blank, and its number from 1.
struct Line {
    std::string_view text;
    std::uint64_t number = 0;
};

/// Takes headings and units from the nearest lines above the numbers that fit layout.columns; these lines
/// leave `above`.
void find_headings(std::vector<Line>& above, Layout& layout);

/// Keeps the other lines above, and what stands beside the first numbers, as metadata.
void keep_metadata(const std::vector<Line>& above, const std::vector<Line>& data, Layout& layout);

}  // namespace ebbtide::recording
