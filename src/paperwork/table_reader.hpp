#pragma once
// Reads a table strictly: every key that the table holds must be asked for, every value must be of the wanted
// type and in range. Problems are gathered, not thrown: the person sees all of them at once.

#include <limits>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "basis/instant.hpp"
#include "paperwork/problems.hpp"
#include "paperwork/toml_tree.hpp"
#include "plan/level.hpp"

namespace ebbtide::paperwork {

/// Which numbers a key takes. `unit` is for messages.
struct Range {
    double least = 0;
    double most = std::numeric_limits<double>::max();
    std::string_view unit = "";
    bool least_excluded = false;
    bool most_excluded = false;

    [[nodiscard]] bool holds(double value) const;
    [[nodiscard]] std::string text() const;  ///< "from 0 to 100 %", "above 0 up to 1e+06 V"
};

/// One table of a document. Getters without "optional" or "_or" report a missing key; after a problem they
/// return an empty value, which never leaves the parser because the document is then refused. Unknown keys
/// are reported when the reader goes out of scope.
class TableReader {
  public:
    TableReader(const Node& table, std::string path, Problems& problems);
    TableReader(TableReader&& other) noexcept;
    TableReader(const TableReader&) = delete;
    TableReader& operator=(const TableReader&) = delete;
    TableReader& operator=(TableReader&&) = delete;
    ~TableReader();

    [[nodiscard]] int line() const { return table_->line; }
    [[nodiscard]] bool has(std::string_view key) const { return table_->find(key) != nullptr; }

    double number(std::string_view key, const Range& range);
    double number_or(std::string_view key, const Range& range, double otherwise);
    std::optional<double> optional_number(std::string_view key, const Range& range);
    int whole(std::string_view key, int least, int most);
    int whole_or(std::string_view key, int least, int most, int otherwise);
    bool truth_or(std::string_view key, bool otherwise);
    /// Not empty, at most 4000 bytes, no control characters but line breaks and tabs.
    std::string text(std::string_view key);
    std::string text_or(std::string_view key, std::string otherwise);
    /// A text on one line of at most 80 bytes without blanks at its ends: names that others refer to.
    std::string id(std::string_view key);
    /// A file beside the document: relative, on one line, never leading out of its folder.
    std::string file(std::string_view key);
    std::string file_or_none(std::string_view key);
    std::vector<std::string> texts_or_none(std::string_view key);
    Date date(std::string_view key);
    std::optional<Date> optional_date(std::string_view key);
    std::optional<Instant> optional_instant(std::string_view key);
    plan::Level level(std::string_view key);                ///< number or text
    std::vector<plan::Level> levels(std::string_view key);  ///< at least one
    /// One of a closed list of words; absent after a problem.
    template <class Value>
    std::optional<Value> choice(std::string_view key,
                                std::span<const std::pair<std::string_view, Value>> words) {
        std::vector<std::string_view> names;
        for (const auto& [name, value] : words) names.push_back(name);
        const auto index = word_index(key, names);
        return index ? std::optional(words[*index].second) : std::nullopt;
    }

    /// A missing table is a problem and reads as an empty one.
    TableReader table(std::string_view key);
    std::optional<TableReader> optional_table(std::string_view key);
    /// A list of tables, [[key]] or key = [{...}]; at least one.
    std::vector<TableReader> tables(std::string_view key);
    std::vector<TableReader> tables_or_none(std::string_view key);

    /// "Did you mean 'x'?" with the nearest of the candidates, or `otherwise` when none is near.
    [[nodiscard]] std::string suggestion(std::string_view word, std::span<const std::string> candidates,
                                         std::string otherwise) const;

    /// Every key with its value, for tables whose keys are data; marks all as known.
    [[nodiscard]] const Node& all();

    /// Reports a problem at the line of the key, or of the table when the key is absent.
    void problem(std::string_view key, std::string what, std::string remedy);
    [[nodiscard]] std::string full_key(std::string_view key) const;

  private:
    const Node* asked(std::string_view key);
    const Node* required(std::string_view key);
    void wrong_type(std::string_view key, const Node& found, std::string_view wanted);
    std::optional<double> number_in(std::string_view key, const Node& found, const Range& range);
    std::optional<int> whole_in(std::string_view key, const Node& found, int least, int most);
    std::optional<std::string> text_in(std::string_view key, const Node& found);
    std::optional<Date> date_in(std::string_view key, const Node& found);
    std::optional<plan::Level> level_in(std::string_view key, const Node& found);
    std::optional<std::size_t> word_index(std::string_view key, std::span<const std::string_view> names);
    std::vector<TableReader> tables_in(std::string_view key, const Node& found);

    const Node* table_;  ///< null once moved from
    std::string path_;   ///< "" for the document, else "charging."
    Problems* problems_;
    std::vector<std::string> known_;
    bool all_known_ = false;
};

}  // namespace ebbtide::paperwork
