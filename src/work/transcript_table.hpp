#pragma once
// A spreadsheet of decay times that people copied by hand, saved as delimited text:
// docs/formats/ledger.md, "A transcript".

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "basis/result.hpp"
#include "plan/level.hpp"

namespace ebbtide::work {

/// One row. Texts are as written, and may be empty but for the material.
struct TranscribedTime {
    int row = 0;  ///< line of the file, from 1
    std::string material, lot, customer, method, specimen, polarity, face, note;
    std::string tested;  ///< "2026-03-14"
    plan::Level level;
    double decay_s = 0;  ///< above zero
    std::optional<double> u_decay_s;
};

/// The rows of a table whose first line names the columns. `table` is text in UTF-8. Errors, all at once,
/// each with its line, column, value and remedy: a column is missing, named twice or unknown; a cell is not
/// what its column holds; there are no rows.
[[nodiscard]] Result<std::vector<TranscribedTime>> read_transcript_table(std::string_view table,
                                                                         const std::string& name);

}  // namespace ebbtide::work
