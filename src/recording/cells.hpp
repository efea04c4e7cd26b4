#pragma once
// Lines of delimited text into cells, and what a cell holds.

#include <string_view>
#include <vector>

namespace ebbtide::recording {

/// Delimiters: ',' ';' tab; ' ' stands for runs of blanks and tabs; '\0' for one cell a line.
/// Cells come without the blanks and the quotes around them; a quoted cell may hold the delimiter.
void split_cells(std::string_view line, char delimiter, std::vector<std::string_view>& cells);

enum class CellKind {
    empty,
    number,
    no_value,  ///< stands where a number should: "nan", "inf", "1e400", "n/a", "overflow", "---"
    clock,     ///< date, time of day, or both
    text,
};
/// `value` is set for a number.
[[nodiscard]] CellKind read_cell(std::string_view cell, char decimal_sign, double& value);

[[nodiscard]] std::string_view trimmed(std::string_view text);
/// True when the line begins with a comment sign: # % ; (the last only for other delimiters) or //.
[[nodiscard]] bool is_comment(std::string_view line, char delimiter);

}  // namespace ebbtide::recording
