#pragma once
// What cmake/embed_texts.cmake makes of src/server/openapi.json.

#include <string_view>
#include <vector>

namespace ebbtide::server {

struct ApiFile {
    std::string_view id;
    std::string_view text;
};

[[nodiscard]] const std::vector<ApiFile>& api_files();

}  // namespace ebbtide::server
