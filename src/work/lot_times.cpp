#include "work/lot_times.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "basis/instant.hpp"
#include "basis/number_text.hpp"

namespace ebbtide::work {
namespace {

enum class TimeColumn { decay, status, upper, specimen, replicate, direction, face, polarity };
constexpr std::array<std::string_view, 8> time_columns{"decay_s",   "status",    "upper_s", "specimen",
                                                       "replicate", "direction", "face",    "polarity"};

using TimeCells = std::vector<std::string_view>;

std::string_view without_blanks(std::string_view text) {
    constexpr std::string_view blanks = " \t\r\"";
    const std::size_t from = text.find_first_not_of(blanks);
    if (from == std::string_view::npos) return {};
    return text.substr(from, text.find_last_not_of(blanks) - from + 1);
}

TimeCells cells_between(std::string_view line, char delimiter) {
    TimeCells out;
    for (;;) {
        const std::size_t end = std::min(line.find(delimiter), line.size());
        out.push_back(without_blanks(line.substr(0, end)));
        if (end == line.size()) return out;
        line.remove_prefix(end + 1);
    }
}

struct TimeHeadings {
    char delimiter = ',';
    std::array<std::optional<std::size_t>, time_columns.size()> places{};
    std::array<std::optional<std::size_t>, label_columns.size()> label_places{};
    std::size_t count = 0;

    [[nodiscard]] std::string_view cell(const TimeCells& cells, TimeColumn column) const {
        const auto& place = places[static_cast<std::size_t>(column)];
        return place && *place < cells.size() ? cells[*place] : std::string_view();
    }
};

Result<TimeHeadings> headings_of(std::string_view line, const std::string& where, LabelColumns labels) {
    TimeHeadings out;
    for (const char delimiter : {'\t', ';', ','})
        if (line.find(delimiter) != std::string_view::npos) out.delimiter = delimiter;
    const TimeCells cells = cells_between(line, out.delimiter);
    std::string known = fmt::format("Columns are: {}", fmt::join(time_columns, ", "));
    if (labels == LabelColumns::read) known += fmt::format(", {}", fmt::join(label_columns, ", "));
    for (std::size_t i = 0; i < cells.size(); ++i) {
        const auto found = std::ranges::find(time_columns, cells[i]);
        const auto label = std::ranges::find(label_columns, cells[i]);
        const bool is_label = labels == LabelColumns::read && label != label_columns.end();
        if (found == time_columns.end() && !is_label)
            return Error{Fault::bad_input, fmt::format("column {} '{}' is not known", i + 1, cells[i]), where,
                         known};
        auto& place = is_label ? out.label_places[static_cast<std::size_t>(label - label_columns.begin())]
                               : out.places[static_cast<std::size_t>(found - time_columns.begin())];
        if (place)
            return Error{Fault::bad_input, fmt::format("two columns are called '{}'", cells[i]), where,
                         "Leave one out"};
        place = i;
    }
    out.count = cells.size();
    if (!out.places[0])
        return Error{Fault::bad_input, "no column 'decay_s'", where,
                     known + "; the first line names them, the times are in seconds"};
    return out;
}

Result<stats::Observation> time_of(const TimeHeadings& headings, const TimeCells& cells,
                                   const std::string& where) {
    const auto number = [&](TimeColumn column) { return parse_number(headings.cell(cells, column)); };
    const auto refuse = [&](std::string what, std::string remedy) {
        return Error{Fault::bad_input, std::move(what), where, std::move(remedy)};
    };
    const std::string_view status =
        headings.places[1] ? headings.cell(cells, TimeColumn::status) : std::string_view("measured");
    const auto value = number(TimeColumn::decay);
    if (!value)
        return refuse(fmt::format("decay_s '{}' is no number", headings.cell(cells, TimeColumn::decay)),
                      "Give seconds with a decimal point: of a time that was not reached the length of the "
                      "record, of one below resolution the bound");
    const std::string_view upper_text = headings.cell(cells, TimeColumn::upper);
    const auto upper = parse_number(upper_text);
    if (!upper_text.empty() && !upper)
        return refuse(fmt::format("upper_s '{}' is no number", upper_text),
                      "Leave it empty where the time is not an interval");
    stats::Observation out;
    if (status == "measured")
        out = !upper || *upper == *value ? stats::exactly(*value)
              : *value == 0              ? stats::at_most(*upper)
                                         : stats::between(*value, *upper);
    else if (status == "not_reached")
        out = stats::at_least(*value);
    else if (status == "below_resolution")
        out = stats::at_most(*value);
    else
        return refuse(fmt::format("status '{}' is not known", status),
                      "Say measured, not_reached or below_resolution");
    if (upper && status != "measured")
        return refuse(fmt::format("a time that is {} has one bound, and upper_s gives a second", status),
                      "Leave upper_s empty, or say measured for a time between two bounds");
    const std::array one{out};
    if (const auto checked = stats::check(one); !checked)
        return refuse(checked.error().what, checked.error().remedy);
    return out;
}

}  // namespace

Result<std::vector<LotTime>> read_lot_times(std::string_view table, const std::string& name,
                                            LabelColumns labels) {
    std::vector<LotTime> out;
    std::optional<TimeHeadings> headings;
    if (table.starts_with("\xEF\xBB\xBF")) table.remove_prefix(3);
    for (std::size_t number = 1; !table.empty(); ++number) {
        const std::size_t end = std::min(table.find('\n'), table.size());
        const std::string_view line = table.substr(0, end);
        table.remove_prefix(std::min(end + 1, table.size()));
        if (without_blanks(line).empty() || without_blanks(line).starts_with('#')) continue;
        const std::string where = fmt::format("{} line {}", name, number);
        if (!headings) {
            auto read = headings_of(line, where, labels);
            if (!read) return read.error();
            headings = *read;
            continue;
        }
        const TimeCells cells = cells_between(line, headings->delimiter);
        if (cells.size() > headings->count)
            return Error{Fault::bad_input,
                         fmt::format("{} cells under {} headings", cells.size(), headings->count), where,
                         "Write numbers with a decimal point, and one delimiter between cells"};
        const auto time = time_of(*headings, cells, where);
        if (!time) return time.error();
        const std::string_view replicate = headings->cell(cells, TimeColumn::replicate);
        const auto place = parse_number(replicate);
        if (!replicate.empty() && !place)
            return Error{Fault::bad_input, fmt::format("replicate '{}' is no number", replicate), where,
                         "Number the replicates of a specimen in the order of testing: 1, 2, 3"};
        const auto text = [&](TimeColumn column) { return std::string(headings->cell(cells, column)); };
        out.push_back({*time, text(TimeColumn::specimen), place, text(TimeColumn::direction),
                       text(TimeColumn::face), text(TimeColumn::polarity)});
        for (std::size_t i = 0; i < label_columns.size(); ++i) {
            const auto& column = headings->label_places[i];
            if (!column || *column >= cells.size() || cells[*column].empty()) continue;
            if (label_columns[i] == "date" && !parse_date(cells[*column]))
                return Error{Fault::bad_input, fmt::format("date '{}' is no day", cells[*column]), where,
                             "Write it as 2026-03-14"};
            out.back().labels[std::string(label_columns[i])] = std::string(cells[*column]);
        }
    }
    if (out.empty())
        return Error{Fault::bad_input, "there are no times", name,
                     "Give a table whose first line names its columns: decay_s,status"};
    return out;
}

}  // namespace ebbtide::work
