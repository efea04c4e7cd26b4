#pragma once
// The page itself, built into the program: what the bundler made of web/.

#include <string_view>
#include <vector>

namespace ebbtide::server {

struct PageFile {
    std::string_view path;  ///< as it is asked for: "/", "/page.js", "/page.css"
    std::string_view type;  ///< "text/html; charset=utf-8"
    std::string_view bytes;
};

/// Empty where the program was built without the page.
[[nodiscard]] const std::vector<PageFile>& page_files();

}  // namespace ebbtide::server
