#pragma once
// What is wrong with a document, and what may have been meant.

#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "basis/result.hpp"

namespace ebbtide::paperwork {

/// What is wrong with a document, by line. A file of a million wrong values must not fill the memory: after
/// most_kept problems the rest are only counted.
class Problems {
  public:
    static constexpr std::size_t most_kept = 1000;

    void add(int line, std::string what, std::string remedy);
    [[nodiscard]] bool any() const { return !rows_.empty(); }
    [[nodiscard]] bool full() const { return rows_.size() >= most_kept; }
    /// One line a problem, "name:line: what. remedy", in the order of their lines. any() must hold.
    [[nodiscard]] Error error(const std::string& name) const;

  private:
    struct Row {
        int line;
        std::string what;
        std::string remedy;
    };
    std::vector<Row> rows_;
    std::size_t left_out_ = 0;
};

/// The candidate with the smallest edit distance when it is near enough to be a slip of the pen; else empty.
/// Looks at the first thousand.
[[nodiscard]] std::string nearest(std::string_view word, std::span<const std::string> candidates);

}  // namespace ebbtide::paperwork
