#pragma once
// How a delimited text is laid out, told from its head: what stands between columns, the decimal sign, where
// the numbers begin, what each column holds.
//
// Delimiter and decimal sign are judged together: every pair is tried on the head, and the one under which
// the lines fall into the most columns of numbers wins. docs/formats/delimited-text.md tells the rules.

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "basis/result.hpp"

namespace ebbtide::recording {

struct SeenColumn {
    enum class Holds { nothing, numbers, clock_times, words };
    Holds holds = Holds::nothing;
    bool sparse = false;      ///< numbers on fewer than half of the lines: an empty cell is no missing value
    bool increasing = false;  ///< nearly always larger than on the line before
    bool counting = false;    ///< whole numbers, each one more than the last
    std::string heading;      ///< as recorded; empty when there is none
    std::string unit;         ///< of the row of units; empty when there is none
    std::vector<std::string> first_cells;  ///< up to three

    [[nodiscard]] bool holds_values() const { return holds == Holds::numbers || holds == Holds::clock_times; }
};

/// A line of the text above the numbers, "key,value" where it has that form.
struct MetadataLine {
    std::uint64_t line = 0;
    std::string key;  ///< empty when the line is plain text
    std::string value;
};

struct Layout {
    char line_end = '\n';  ///< '\r' for the one old dialect that knows no other
    char delimiter = ',';  ///< '\0' when there is one column, ' ' for runs of blanks
    char decimal_sign = '.';
    std::vector<SeenColumn> columns;
    bool headed = false;
    bool unit_row = false;
    std::size_t data_at = 0;      ///< byte in the head where the first line of numbers begins
    std::uint64_t data_line = 1;  ///< its number, from 1
    std::vector<MetadataLine> metadata;
    /// Longest run of digits behind the decimal sign each line has at least, per column: a shorter number at
    /// the very end of the file was cut.
    std::vector<int> fewest_decimals;

    // Files that are no text fill in the columns themselves, and these:
    std::string part = "column";           ///< how messages call one: "channel", "dataset"
    std::optional<double> own_interval_s;  ///< the file counts its samples, so far apart
    std::string own_interval_text;         ///< "44100 samples a second"
};

/// `head`: the first bytes of the text, its last line whole only when `complete`. Errors: no columns of
/// numbers.
[[nodiscard]] Result<Layout> recognise_layout(std::string_view head, bool complete, const std::string& name);

}  // namespace ebbtide::recording
