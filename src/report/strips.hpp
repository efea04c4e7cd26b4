#pragma once
// From the document to strips, set in type for a text width of text_width_pt.

#include <vector>

#include "report/document.hpp"
#include "report/pages.hpp"
#include "report/text_layout.hpp"

namespace ebbtide::report {

/// `document` and `typesetter` must outlive the strips. No strip is higher than `tallest`, figures excepted
/// that are themselves higher.
[[nodiscard]] std::vector<Strip> strips_of(const Document& document, const Typesetter& typesetter,
                                           double tallest);

/// The strips of a table (table_strips.cpp).
void add_table(std::vector<Strip>& strips, const Table& table, const Typesetter& typesetter, double tallest);

/// Lines of a text as strips; the first two and the last two lines of a paragraph stay together.
void add_lines(std::vector<Strip>& strips, SetText text, double indent, double before);

}  // namespace ebbtide::report
