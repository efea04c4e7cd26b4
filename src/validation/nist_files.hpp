#pragma once
// What cmake/embed_texts.cmake makes of nist/*.dat.

#include <string_view>
#include <vector>

namespace ebbtide::validation {

struct NistFile {
    std::string_view id;  ///< file name without ending
    std::string_view text;
};

/// In the order of their names.
[[nodiscard]] const std::vector<NistFile>& nist_files();

}  // namespace ebbtide::validation
