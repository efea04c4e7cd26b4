// Specifications. docs/formats/specification.md explains every key.

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <array>
#include <set>

#include "basis/number_text.hpp"
#include "paperwork/document.hpp"
#include "paperwork/heading.hpp"
#include "paperwork/paperwork.hpp"
#include "paperwork/ranges.hpp"
#include "paperwork/table_reader.hpp"

namespace ebbtide::paperwork {
namespace {

using plan::GroupKey;

std::vector<GroupKey> group_keys(TableReader& table) {
    static constexpr std::array all{GroupKey::specimen, GroupKey::direction, GroupKey::face,
                                    GroupKey::polarity, GroupKey::state,     GroupKey::conditions};
    std::vector<std::string> names;
    for (const GroupKey key : all) names.emplace_back(name_of(key));
    std::vector<GroupKey> out;
    for (const std::string& word : table.texts_or_none("group_by")) {
        const auto at = std::ranges::find(names, word);
        if (at == names.end()) {
            table.problem("group_by",
                          fmt::format("'{}': runs cannot be grouped by '{}'", table.full_key("group_by"),
                                      shortened(word)),
                          fmt::format("Known: {}", fmt::join(names, ", ")));
            continue;
        }
        const GroupKey key = all[static_cast<std::size_t>(at - names.begin())];
        if (std::ranges::find(out, key) != out.end())
            table.problem("group_by", fmt::format("'{}' names '{}' twice", table.full_key("group_by"), word),
                          "");
        out.push_back(key);
    }
    return out;
}

/// Classes stand best first; the last one's limit is the requirement's.
void classes(TableReader& table, plan::Requirement& out) {
    std::set<std::string> names;
    for (TableReader& row : table.tables_or_none("classes")) {
        const plan::Grade grade{row.id("name"), row.number("limit_s", positive_s)};
        if (!grade.name.empty() && !names.insert(grade.name).second)
            row.problem("name", fmt::format("two classes have the name '{}'", shortened(grade.name)),
                        "Names must differ");
        if (!out.grades.empty() && !(grade.limit_s > out.grades.back().limit_s))
            row.problem("limit_s",
                        fmt::format("the class '{}' has a limit of {} s, not above the one before it",
                                    shortened(grade.name), shortest_text(grade.limit_s)),
                        "List the best class first: its limit is the shortest");
        out.grades.push_back(grade);
    }
    if (out.grades.empty()) {
        out.limit_s = table.number("limit_s", positive_s);
        return;
    }
    const double last_s = out.grades.back().limit_s;
    out.limit_s = table.number_or("limit_s", positive_s, last_s);
    if (out.limit_s != last_s)
        table.problem("limit_s",
                      fmt::format("'{}' is {} s, the last class ends at {} s", table.full_key("limit_s"),
                                  shortest_text(out.limit_s), shortest_text(last_s)),
                      "Leave it out, or make the two alike");
}

/// A limit on a quantity that another test gives. Keys of a decay time are not known here.
plan::Requirement supplied_requirement(TableReader& table) {
    plan::Requirement out;
    out.id = table.id("id");
    out.clause = table.text("clause");
    static constexpr std::array<std::pair<std::string_view, plan::Comparison>, 4> comparisons{
        {{"<", plan::Comparison::less},
         {"<=", plan::Comparison::less_or_equal},
         {">", plan::Comparison::greater},
         {">=", plan::Comparison::greater_or_equal}}};
    out.comparison =
        table.choice<plan::Comparison>("comparison", comparisons).value_or(plan::Comparison::less);
    out.supplied =
        plan::SuppliedLimit{table.id("quantity"), table.number("limit", {.least = -1e12, .most = 1e12})};
    return out;
}

plan::Requirement requirement(TableReader& table) {
    if (table.has("quantity")) return supplied_requirement(table);
    plan::Requirement out;
    out.id = table.id("id");
    out.clause = table.text("clause");
    out.level = table.level("level");
    if (out.level.value == 0)
        table.problem("level",
                      fmt::format("'{}' is 0 %, which no exponential ever reaches", table.full_key("level")),
                      "Ask for the level that stands for zero");
    static constexpr std::array<std::pair<std::string_view, plan::Statistic>, 2> statistics{
        {{"each_run", plan::Statistic::each_run}, {"mean", plan::Statistic::mean}}};
    const auto statistic = table.choice<plan::Statistic>("statistic", statistics);
    out.group_by = group_keys(table);
    out.statistic = statistic.value_or(plan::Statistic::each_run);
    const bool grouped = table.has("group_by");
    if (statistic == plan::Statistic::mean && !grouped)
        table.problem("group_by", fmt::format("'{}' is missing", table.full_key("group_by")),
                      "Say over which runs the mean is taken; [] is the mean of all");
    if (statistic == plan::Statistic::each_run && grouped)
        table.problem("group_by", fmt::format("'{}' has no meaning for each_run", table.full_key("group_by")),
                      "Take it out");
    static constexpr std::array<std::pair<std::string_view, plan::Comparison>, 2> comparisons{
        {{"<", plan::Comparison::less}, {"<=", plan::Comparison::less_or_equal}}};
    out.comparison =
        table.choice<plan::Comparison>("comparison", comparisons).value_or(plan::Comparison::less);
    classes(table, out);
    return out;
}

/// Reports an id that was seen before.
void claim(std::set<std::string>& seen, const std::string& id, TableReader& table) {
    if (!id.empty() && !seen.insert(id).second)
        table.problem(
            "id",
            fmt::format("'{}' is '{}', which stands above already", table.full_key("id"), shortened(id)),
            "Names must differ");
}

plan::Specification specification(TableReader& top, const Node&) {
    plan::Specification out;
    read_heading(top, out);
    out.remarks = top.texts_or_none("remarks");
    std::set<std::string> demand_ids;
    std::set<std::string> requirement_ids;
    for (TableReader& table : top.tables("demand")) {
        plan::Demand demand;
        demand.id = table.id("id");
        claim(demand_ids, demand.id, table);
        for (TableReader& alternative : table.tables("any_of")) {
            demand.any_of.push_back(requirement(alternative));
            claim(requirement_ids, demand.any_of.back().id, alternative);
        }
        out.demands.push_back(std::move(demand));
    }
    return out;
}

}  // namespace

Result<plan::Specification> parse_specification(std::string_view toml, const std::string& name) {
    return read_document<plan::Specification>(toml, name, "specification", specification);
}

}  // namespace ebbtide::paperwork
