#include "paperwork/decision_rule.hpp"

#include <fmt/format.h>

#include <array>
#include <set>

#include "paperwork/ranges.hpp"

namespace ebbtide::paperwork {
namespace {

using Kind = plan::DecisionRule::Kind;

constexpr Range times_U{.least = 0, .most = plan::most_guard_times_U};
constexpr Range guard_band_s{.least = 0, .most = plan::most_guard_s, .unit = "s"};

void guard_band(TableReader& table, std::optional<Kind> kind, plan::DecisionRule& rule) {
    const auto times = table.optional_number("guard_times_U", times_U);
    rule.guard_s = table.optional_number("guard_s", guard_band_s);
    rule.guard_times_U = times.value_or(1);
    if (kind == Kind::simple)
        for (const char* key : {"guard_times_U", "guard_s"})
            if (table.has(key))
                table.problem(key,
                              fmt::format("'{}' has no meaning for the simple rule", table.full_key(key)),
                              "Take it out, or agree on kind = \"guarded\"");
    if (table.has("guard_times_U") && table.has("guard_s"))
        table.problem("guard_s", "the guard band is given twice, in times U and in seconds",
                      "Keep the one that was agreed");
}

plan::History history(TableReader& table, std::set<std::string>& seen) {
    plan::History out;
    out.requirement = table.id("requirement");
    out.mean_s = table.number("mean_s", positive_s);
    out.standard_deviation_s = table.number("standard_deviation_s", positive_s);
    out.source = table.text("source");
    if (!out.requirement.empty() && !seen.insert(out.requirement).second)
        table.problem("requirement",
                      fmt::format("the history of '{}' stands above already", shortened(out.requirement)),
                      "Give one history for each requirement");
    return out;
}

}  // namespace

plan::DecisionRule decision_rule(TableReader table) {
    static constexpr std::array<std::pair<std::string_view, Kind>, 2> kinds{
        {{"simple", Kind::simple}, {"guarded", Kind::guarded}}};
    plan::DecisionRule rule;
    const auto kind = table.choice<Kind>("kind", kinds);
    rule.kind = kind.value_or(Kind::simple);
    guard_band(table, kind, rule);
    rule.agreed = table.text("agreed");
    std::set<std::string> seen;
    for (TableReader& one : table.tables_or_none("history")) rule.history.push_back(history(one, seen));
    return rule;
}

}  // namespace ebbtide::paperwork
