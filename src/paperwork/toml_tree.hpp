#pragma once
// A TOML document as plain values that know their line. The only door to the TOML library.

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "basis/result.hpp"

namespace ebbtide::paperwork {

/// One value of a document, tables and arrays with all they hold.
struct Node {
    enum class Kind { table, array, text, whole, number, truth, date, instant, zoneless_time };
    Kind kind = Kind::table;
    int line = 1;
    std::string text;               ///< text; dates and times as ISO 8601 writes them
    std::int64_t whole = 0;         ///< whole
    double number = 0;              ///< whole and number; may be inf or nan as written
    bool truth = false;             ///< truth
    std::vector<Node> elements;     ///< of an array or a table, in the order of their lines
    std::vector<std::string> keys;  ///< of a table, one an element

    /// The value under a key; null when there is none.
    [[nodiscard]] const Node* find(std::string_view key) const;
};

/// What a node is, for messages: "the text 'abc'", "the number 3", "a table".
[[nodiscard]] std::string shown(const Node& node);

/// At most 60 characters of a text from outside, control characters replaced: safe in a message.
[[nodiscard]] std::string shortened(std::string_view text);

/// Reads a whole document. `name` is used in messages only. Errors: not UTF-8, not TOML (with line), larger
/// than 4 MiB, nested deeper than any document of ours.
[[nodiscard]] Result<Node> parse_tree(std::string_view toml, const std::string& name);

}  // namespace ebbtide::paperwork
