#pragma once
// Maps of a sheet as TOML. docs/formats/sheet-map.md explains every key.

#include <string>
#include <string_view>

#include "basis/result.hpp"
#include "plan/sheet_map.hpp"

namespace ebbtide::paperwork {

class TableReader;

/// As the documents of paperwork.hpp.
[[nodiscard]] Result<plan::SheetMapFile> parse_sheet_map(std::string_view toml, const std::string& name);

/// The same keys, but for the schema, in a table of another document.
[[nodiscard]] plan::SheetMapFile sheet_map_in(TableReader& table);

}  // namespace ebbtide::paperwork
