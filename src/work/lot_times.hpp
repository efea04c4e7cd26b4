#pragma once
// Bare decay times of a lot, as a table of delimited text: docs/formats/lot.md, "A file of times".

#include <array>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "basis/result.hpp"
#include "stats/censored.hpp"

namespace ebbtide::work {

/// One decay time, or what is known of it, and what it belongs to; texts may be empty.
struct LotTime {
    stats::Observation time;
    std::string specimen;  ///< times of one specimen are replicates; empty: a specimen of its own
    std::optional<double> replicate = {};  ///< its place in the sequence of the specimen's replicates
    std::string direction = {}, face = {}, polarity = {};
    std::map<std::string, std::string> labels = {};  ///< what else it belongs to: "lot", "supplier", "date"
};

/// Columns that are read into `labels`, where they may stand.
inline constexpr std::array<std::string_view, 7> label_columns{"group", "material",   "lot", "supplier",
                                                               "state", "conditions", "date"};
enum class LabelColumns { refused, read };

/// The rows of a table whose first line names the columns; decimal point; comma, semicolon or tab between.
/// Errors, with their line: a column is unknown, missing or named twice; a cell is not what its column holds;
/// there are no rows.
[[nodiscard]] Result<std::vector<LotTime>> read_lot_times(std::string_view table, const std::string& name,
                                                          LabelColumns labels = LabelColumns::refused);

}  // namespace ebbtide::work
