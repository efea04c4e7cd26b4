#pragma once
// From strips to pages. A strip is the smallest piece that is never broken: a line, a row of a table, a
// figure.

#include <cairo.h>

#include <functional>
#include <memory>
#include <string>
#include <vector>

namespace ebbtide::report {

struct Strip {
    double before = 0;  ///< space above, left out at the top of a page
    double height = 0;
    bool keep_with_next = false;
    std::shared_ptr<const Strip> head;  ///< drawn again when this strip starts a page: the head of its table
    std::function<void(cairo_t*, double x, double y)> draw;
    std::string outline;  ///< entry of the list of contents; empty for most
};

struct PlacedStrip {
    const Strip* strip = nullptr;
    double y = 0;  ///< from the top of the text
};
using Page = std::vector<PlacedStrip>;

/// Fills pages from the top. Strips that keep with the next move to the next page together, unless they would
/// not fit on any page. At least one page. The strips must outlive the pages.
[[nodiscard]] std::vector<Page> paginate(const std::vector<Strip>& strips, double text_height);

}  // namespace ebbtide::report
