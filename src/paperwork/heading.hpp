#pragma once
// The keys with which a method, a specification and a bench say what they are.

#include "paperwork/table_reader.hpp"
#include "plan/apparatus.hpp"

namespace ebbtide::paperwork {

/// `apparatus`: one of the closed list; a slip of the pen is answered with the nearest word.
[[nodiscard]] plan::Apparatus read_apparatus(TableReader& top);

/// The six keys above the tables of a method and of a specification.
template <class Document>
void read_heading(TableReader& top, Document& out) {
    out.id = top.id("id");
    out.edition = top.text("edition");
    out.title = top.text("title");
    out.source = top.text("source");
    out.notice = top.text("notice");
    out.apparatus = read_apparatus(top);
}

}  // namespace ebbtide::paperwork
