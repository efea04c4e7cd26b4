#include "work/order_edit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>

#include "basis/number_text.hpp"
#include "ledger/durable_file.hpp"
#include "paperwork/paperwork.hpp"
#include "record/json.hpp"
#include "work/order_files.hpp"

namespace ebbtide::work {
namespace {

std::vector<std::string> lines_of(const std::string& text) {
    std::vector<std::string> lines;
    for (std::size_t at = 0; at < text.size();) {
        const std::size_t end = std::min(text.find('\n', at), text.size());
        lines.push_back(text.substr(at, end - at));
        at = end + 1;
    }
    return lines;
}

std::string_view bare(std::string_view line) {
    line = line.substr(0, line.find('#'));
    while (!line.empty() && (line.back() == ' ' || line.back() == '\t' || line.back() == '\r'))
        line.remove_suffix(1);
    while (!line.empty() && (line.front() == ' ' || line.front() == '\t')) line.remove_prefix(1);
    return line;
}

bool sets(std::string_view line, std::string_view key) {
    line = bare(line);
    if (!line.starts_with(key)) return false;
    line = bare(line.substr(key.size()));
    return line.starts_with('=');
}

Result<Done> set_keys(std::vector<std::string>& lines, const TableEdit& edit) {
    std::size_t first = 0, seen = 0;
    for (; first < lines.size(); ++first)
        if (bare(lines[first]) == edit.heading && seen++ == edit.which) break;
    if (first == lines.size())
        return Error{Fault::bad_input,
                     fmt::format("the order has no table {} on a line of its own", edit.heading),
                     "order.toml", "Enter it by hand"};
    ++first;
    std::size_t last = first;
    while (last < lines.size() && !bare(lines[last]).starts_with('[')) ++last;
    for (const auto& [key, value] : edit.keys) {
        const std::string line = fmt::format("{} = {}", key, value);
        const auto end = lines.begin() + static_cast<std::ptrdiff_t>(last);
        const auto there = std::find_if(lines.begin() + static_cast<std::ptrdiff_t>(first), end,
                                        [&](const std::string& one) { return sets(one, key); });
        if (there != end) {
            *there = line;
            continue;
        }
        // Behind the last line of the table, before what parts it from the next.
        std::size_t at = last;
        while (at > first && bare(lines[at - 1]).empty()) --at;
        lines.insert(lines.begin() + static_cast<std::ptrdiff_t>(at), line);
        ++last;
    }
    return Done{};
}

/// A value that was stated stays; one that is said again is no change.
template <class T>
std::optional<Error> add_known(TableEdit& edit, const char* key, const std::optional<T>& stated,
                               const std::optional<T>& known, const std::string& text) {
    if (!known || (stated && *stated == *known)) return {};
    if (stated)
        return Error{Fault::bad_input, fmt::format("the order states '{}' already", key), key,
                     "A correction is made in order.toml, by hand and openly"};
    edit.keys.emplace_back(key, text);
    return {};
}

}  // namespace

Result<std::string> with_keys(const std::string& toml, const std::vector<TableEdit>& edits) {
    std::vector<std::string> lines = lines_of(toml);
    for (const TableEdit& edit : edits)
        if (auto set = set_keys(lines, edit); !set) return set.error();
    std::string out;
    for (const std::string& line : lines) out += line + "\n";
    return out;
}

Result<Done> replace_order(const std::string& folder, const std::string& before, const std::string& text,
                           Instant now) {
    namespace fs = std::filesystem;
    const std::string path = folder + "/order.toml", part = path + ".part";
    const auto there = read_whole(path, before.size() + 1);
    if (!there || *there != before)
        return Error{Fault::inconsistent, "the order was changed meanwhile", path,
                     "Look at it and try again"};
    std::string stamp = iso_text(Instant{now.ns - now.ns % 1'000'000'000});
    std::erase_if(stamp, [](char c) { return c == '-' || c == ':'; });
    std::error_code none;
    fs::create_directory(folder + "/earlier", none);
    std::string earlier = fmt::format("{}/earlier/order-{}.toml", folder, stamp);
    for (int i = 2; fs::exists(earlier, none); ++i)
        earlier = fmt::format("{}/earlier/order-{}-{}.toml", folder, stamp, i);
    if (auto kept = ledger::write_new_file(earlier, before); !kept) return kept;
    fs::remove(part, none);
    if (auto written = ledger::write_new_file(part, text); !written) return written;
    std::error_code fault;
    fs::rename(part, path, fault);
    if (fault)
        return Error{Fault::unreadable, "cannot be written: " + fault.message(), path,
                     "Check that the folder is writable and not full"};
    return Done{};
}

Result<Done> enter_conditions(const std::string& folder, const ConditionsKnown& known, Instant now) {
    const auto text = folder_files(folder)->text("order.toml");
    if (!text) return text.error();
    auto order = paperwork::parse_order(*text, "order.toml");
    if (!order) return order.error();
    const auto found = std::ranges::find(order->conditions, known.id, &plan::TestConditions::id);
    if (found == order->conditions.end())
        return Error{Fault::bad_input, "the order has no such conditions", "id",
                     "Take one of its conditions"};
    TableEdit edit{"[[conditions]]", static_cast<std::size_t>(found - order->conditions.begin()), {}};
    const auto number = [](const std::optional<double>& value) { return value ? shortest_text(*value) : ""; };
    const auto instant = [](const std::optional<Instant>& value) { return value ? iso_text(*value) : ""; };
    for (auto&& fault : {add_known(edit, "relative_humidity_percent", found->relative_humidity_percent,
                                   known.relative_humidity_percent, number(known.relative_humidity_percent)),
                         add_known(edit, "temperature_C", found->temperature_C, known.temperature_C,
                                   number(known.temperature_C)),
                         add_known(edit, "conditioned_from", found->conditioned_from, known.conditioned_from,
                                   instant(known.conditioned_from)),
                         add_known(edit, "conditioned_to", found->conditioned_to, known.conditioned_to,
                                   instant(known.conditioned_to))})
        if (fault) return *fault;
    if (edit.keys.empty()) return Done{};
    auto edited = with_keys(*text, {edit});
    if (!edited) return edited.error();
    const auto read = paperwork::parse_order(*edited, "order.toml");
    if (!read) return read.error();
    // Nothing else may have been moved by it.
    plan::TestConditions& expected = *found;
    if (known.relative_humidity_percent) expected.relative_humidity_percent = known.relative_humidity_percent;
    if (known.temperature_C) expected.temperature_C = known.temperature_C;
    if (known.conditioned_from) expected.conditioned_from = known.conditioned_from;
    if (known.conditioned_to) expected.conditioned_to = known.conditioned_to;
    if (record::json_of(*read) != record::json_of(*order))
        return Error{Fault::bad_input, "the order is written in a way that cannot be edited", "order.toml",
                     "Enter it by hand"};
    return replace_order(folder, *text, *edited, now);
}

}  // namespace ebbtide::work
