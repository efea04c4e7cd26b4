#include "paperwork/problems.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <numeric>

namespace ebbtide::paperwork {
namespace {

constexpr std::size_t longest_word = 80;

/// Insertions, deletions and replacements that turn one word into the other.
std::size_t edit_distance(std::string_view a, std::string_view b) {
    std::vector<std::size_t> row(b.size() + 1);
    std::iota(row.begin(), row.end(), std::size_t{0});
    for (std::size_t i = 0; i < a.size(); ++i) {
        std::size_t diagonal = row[0];
        row[0] = i + 1;
        for (std::size_t j = 0; j < b.size(); ++j) {
            const std::size_t replaced = diagonal + (a[i] == b[j] ? 0 : 1);
            diagonal = row[j + 1];
            row[j + 1] = std::min({row[j + 1] + 1, row[j] + 1, replaced});
        }
    }
    return row.back();
}

}  // namespace

void Problems::add(int line, std::string what, std::string remedy) {
    if (full())
        ++left_out_;
    else
        rows_.push_back({line, std::move(what), std::move(remedy)});
}

Error Problems::error(const std::string& name) const {
    std::vector<Row> rows = rows_;
    std::ranges::stable_sort(rows, {}, &Row::line);
    // A file of ten thousand wrong lines is mended from its top.
    constexpr std::size_t most_shown = 50;
    const std::size_t shown_count = std::min(rows.size(), most_shown);
    Error out{Fault::bad_input, rows[0].what, fmt::format("{}:{}", name, rows[0].line), rows[0].remedy};
    if (rows.size() == 1) return out;
    out.what = Error{Fault::bad_input, rows[0].what, "", rows[0].remedy}.text();
    out.remedy.clear();
    for (std::size_t i = 1; i < shown_count; ++i)
        out.what += '\n' + Error{Fault::bad_input, rows[i].what, fmt::format("{}:{}", name, rows[i].line),
                                 rows[i].remedy}
                               .text();
    const std::size_t more = rows.size() - shown_count + left_out_;
    if (more > 0) out.what += fmt::format("\n... and {} more", more);
    return out;
}

std::string nearest(std::string_view word, std::span<const std::string> candidates) {
    if (word.size() > longest_word) return {};
    std::string best;
    std::size_t best_distance = std::max<std::size_t>(2, word.size() / 3) + 1;
    for (const std::string& candidate : candidates.first(std::min<std::size_t>(candidates.size(), 1000))) {
        const std::size_t distance = edit_distance(word, candidate);
        if (distance < best_distance) {
            best = candidate;
            best_distance = distance;
        }
    }
    return best;
}

}  // namespace ebbtide::paperwork
