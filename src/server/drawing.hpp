#pragma once
// A picture of the report as an answer.

#include "report/picture.hpp"
#include "server/request.hpp"

namespace ebbtide::server {

/// SVG that stands alone as well as in the page, whose colours it takes: docs/formats/page.md, "Drawings".
[[nodiscard]] Reply drawing(const report::Picture& picture);

}  // namespace ebbtide::server
