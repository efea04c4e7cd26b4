#pragma once
// What cmake/embed_texts.cmake makes of methods/*.toml.

#include <string_view>
#include <vector>

namespace ebbtide::paperwork {

struct ShippedFile {
    std::string_view id;  ///< file name without ending
    std::string_view toml;
};

/// In the order of their names.
[[nodiscard]] const std::vector<ShippedFile>& shipped_files();

}  // namespace ebbtide::paperwork
