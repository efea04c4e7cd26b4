#include "paperwork/recording_folders.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "paperwork/channel_table.hpp"
#include "paperwork/polarity_words.hpp"
#include "paperwork/ranges.hpp"
#include "plan/name_pattern.hpp"

namespace ebbtide::paperwork {
namespace {

/// Reads what the names do not say; a key that they say as well would have two values.
class Constants {
  public:
    Constants(TableReader& table, const plan::NamePattern& pattern) : table_(table), pattern_(pattern) {}

    /// True when the key is to be read.
    bool wanted(std::string_view key, bool required) {
        const bool given = table_.has(key), named = pattern_.names(key);
        if (given && named)
            table_.problem(key, fmt::format("'{}' is given, and 'names' holds {{{}}}", key, key),
                           "Leave one of them out");
        if (!given && !named && required)
            table_.problem(key, fmt::format("'{}' is missing, and 'names' does not hold {{{}}}", key, key),
                           "Give it here when it is the same for all files, or put it into 'names'");
        return given;
    }

    template <class Rows>
    std::string id_of(std::string_view key, std::string_view kind, const Rows& rows) {
        if (!wanted(key, true)) return {};
        std::string id = table_.id(key);
        std::vector<std::string> ids;
        for (const auto& row : rows) ids.push_back(row.id);
        if (!id.empty() && std::ranges::find(ids, id) == ids.end())
            table_.problem(key, fmt::format("no [[{}]] has the id '{}'", kind, shortened(id)),
                           table_.suggestion(id, ids, fmt::format("Describe it under [[{}]]", kind)));
        return id;
    }

  private:
    TableReader& table_;
    const plan::NamePattern& pattern_;
};

plan::NamePattern pattern_of(TableReader& table, std::string& names) {
    names = table.text("names");
    auto pattern = plan::NamePattern::parse(names);
    if (!pattern) table.problem("names", "'names': " + pattern.error().what, pattern.error().remedy);
    return pattern ? std::move(pattern).value() : plan::NamePattern();
}

plan::RunKey key_of(TableReader& table, const plan::NamePattern& pattern, const plan::Order& order) {
    Constants constants(table, pattern);
    plan::RunKey key;
    key.specimen = constants.id_of("specimen", "specimen", order.specimens);
    if (constants.wanted("face", true)) key.face = table.id("face");
    key.conditions = constants.id_of("conditions", "conditions", order.conditions);
    if (constants.wanted("polarity", true))
        key.polarity = polarity_in(table).value_or(plan::Polarity::positive);
    if (constants.wanted("replicate", false)) key.replicate = table.whole("replicate", 1, 1000);
    return key;
}

plan::RecordingFolder folder_of(TableReader& table, const plan::Order& order) {
    plan::RecordingFolder out;
    out.line = table.line();
    out.folder = table.file("folder");
    while (out.folder.ends_with('/')) out.folder.pop_back();
    if (out.folder == ".")
        table.problem("folder", "'folder' is the order's own folder, which holds its other files too",
                      "Keep recordings in a folder of their own, for instance 'recordings'");
    const plan::NamePattern pattern = pattern_of(table, out.names);
    // After a problem in 'names' nobody knows what it says, and what is missing cannot be told.
    if (pattern.parsed()) out.key = key_of(table, pattern, order);
    out.channels = channel_names(table);
    out.sample_interval_s = table.optional_number("sample_interval_s", positive_s);
    return out;
}

}  // namespace

std::vector<plan::RecordingFolder> recording_folders(TableReader& top, const plan::Order& order) {
    std::vector<plan::RecordingFolder> out;
    for (TableReader& table : top.tables_or_none("folder")) {
        out.push_back(folder_of(table, order));
        const std::string& folder = out.back().folder;
        if (!folder.empty() && std::ranges::count(out, folder, &plan::RecordingFolder::folder) > 1)
            table.problem("folder", fmt::format("the folder '{}' stands above already", shortened(folder)),
                          "Name a folder once; recordings that differ lie in folders of their own");
    }
    return out;
}

}  // namespace ebbtide::paperwork
