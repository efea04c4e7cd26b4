#pragma once
// The report of an order as a page, for tests that read it.

#include <string>

#include "report/report.hpp"

namespace ebbtide::testing_support {

/// The page with plain spaces where lines must not be broken.
inline std::string html_of(const report::ReportInput& input) {
    std::string page = report::to_html(input).value();
    const std::string no_break = "\xC2\xA0";
    for (auto at = page.find(no_break); at != std::string::npos; at = page.find(no_break, at))
        page.replace(at, no_break.size(), " ");
    return page;
}

inline bool holds(const std::string& page, const std::string& text) {
    return page.find(text) != std::string::npos;
}

}  // namespace ebbtide::testing_support
