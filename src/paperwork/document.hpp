#pragma once
// A document from its text to its value, or to the Error with all its problems.

#include <optional>
#include <string>
#include <string_view>

#include "basis/result.hpp"
#include "paperwork/problems.hpp"
#include "paperwork/table_reader.hpp"
#include "paperwork/toml_tree.hpp"

namespace ebbtide::paperwork {

/// The Error of a document that is of another kind, newer, or does not say what it is.
[[nodiscard]] std::optional<Error> schema_problem(const Node& document, const std::string& name,
                                                  std::string_view kind);

/// Reads a whole document of the kind "ebbtide.KIND/1" with `read`, which takes the TableReader of its top
/// and the document itself.
template <class Value, class Read>
Result<Value> read_document(std::string_view toml, const std::string& name, std::string_view kind,
                            Read read) {
    const Result<Node> tree = parse_tree(toml, name);
    if (!tree) return tree.error();
    if (auto wrong = schema_problem(*tree, name, kind)) return *wrong;
    Problems problems;
    Value value = [&] {
        TableReader top(*tree, "", problems);
        static_cast<void>(top.text("schema"));
        return read(top, *tree);
    }();
    if (problems.any()) return problems.error(name);
    return value;
}

}  // namespace ebbtide::paperwork
