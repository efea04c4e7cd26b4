#pragma once
// Rows of plain decimals that are all written alike, sixteen bytes at a time.

#include <array>
#include <cstddef>
#include <cstdint>
#include <span>
#include <string_view>

namespace ebbtide::lanes {

/// How every number of a column is written: an optional minus, digits, an optional decimal sign, digits.
class DecimalPattern {
  public:
    /// `whole` digits, at least one, then `fraction` digits behind the sign, together at most 15.
    DecimalPattern(bool minus, int whole, bool point, int fraction);

    bool minus;
    bool point;
    std::size_t whole;
    std::size_t bytes;  ///< of the number, with its minus
    double divisor;     ///< ten to the digits behind the sign
    alignas(16)
        std::array<std::uint8_t, 16> take;  ///< byte of the text for each of sixteen digits; 0x80 for none
};

struct RowShape {
    char delimiter;
    char decimal_sign;
    std::string_view row_end;  ///< "\n", "\r\n" or "\r"
};

/// Reads rows from the beginning of `text`, which ends with a whole row, while every cell is written as its
/// column's pattern says; returns how many, at most `most`, each columns.size() numbers in `out`. All rows
/// read have the same length, the sum of their cells. At least 16 readable bytes must follow `text`. Numbers
/// are rounded once, as strtod does.
[[nodiscard]] std::size_t read_alike_rows(std::string_view text, std::span<const DecimalPattern> columns,
                                          const RowShape& shape, double* out, std::size_t most);

}  // namespace ebbtide::lanes
