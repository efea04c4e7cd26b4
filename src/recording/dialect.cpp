#include "recording/dialect.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

namespace ebbtide::recording {

std::string dialect_text(Encoding encoding, bool utf8, const Layout& layout, const ChannelPlan& plan) {
    std::vector<std::string> parts;
    switch (encoding) {
        case Encoding::bytes:
            parts.emplace_back(utf8 ? "UTF-8" : "Latin-1");
            break;
        case Encoding::utf8_with_mark:
            parts.emplace_back("UTF-8 with a byte-order mark");
            break;
        case Encoding::utf16_le:
            parts.emplace_back("UTF-16 LE");
            break;
        case Encoding::utf16_be:
            parts.emplace_back("UTF-16 BE");
            break;
    }
    switch (layout.delimiter) {
        case '\0':
            parts.emplace_back("one column");
            break;
        case '\t':
            parts.emplace_back("tabs between columns");
            break;
        case ' ':
            parts.emplace_back("blanks between columns");
            break;
        default:
            parts.push_back(fmt::format("'{}' between columns", layout.delimiter));
    }
    parts.emplace_back(layout.decimal_sign == ',' ? "decimal comma" : "decimal point");
    if (layout.line_end == '\r') parts.emplace_back("lines end with CR");
    if (layout.data_line > 1)
        parts.push_back(
            fmt::format("{} line{} above", layout.data_line - 1, layout.data_line == 2 ? "" : "s"));
    if (!layout.headed) parts.emplace_back("no headings");
    if (layout.unit_row) parts.emplace_back("units in a row");
    for (std::size_t i = 0; i < layout.columns.size(); ++i)
        if (layout.columns[i].holds == SeenColumn::Holds::words && parts.size() < 12)
            parts.push_back(fmt::format("words in column {} left aside", i + 1));
    return fmt::format("{}; {}", fmt::join(parts, ", "), fmt::join(plan.remarks, "; "));
}

}  // namespace ebbtide::recording
