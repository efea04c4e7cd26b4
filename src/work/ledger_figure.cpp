#include "work/ledger_figure.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "ledger/segments.hpp"

namespace ebbtide::work {
namespace {

using ledger::Database;
using ledger::Entry;
using ledger::Kind;
using nlohmann::json;

constexpr std::size_t shortest_beginning = 4;
constexpr std::size_t most_listed = 12;

std::string listed(const std::vector<std::string>& names) {
    std::string text;
    for (std::size_t i = 0; i < std::min(names.size(), most_listed); ++i)
        text += (text.empty() ? "'" : ", '") + names[i] + "'";
    return names.size() > most_listed ? text + fmt::format(" and {} more", names.size() - most_listed) : text;
}

/// An order's id may hold strokes: the longest beginning that is an order counts.
struct Split {
    std::vector<Entry> statements;  ///< all revisions, the first one first
    std::string rest;               ///< behind the stroke; empty: the order itself
};

Result<Split> split_of(Database& ledger, const std::string& figure) {
    for (std::size_t end = figure.size(); end != std::string::npos && end > 0;
         end = figure.rfind('/', end - 1)) {
        auto statements = ledger::revisions(ledger, Kind::statement, figure.substr(0, end));
        if (!statements) return statements.error();
        if (!statements->empty())
            return Split{std::move(statements).value(), end < figure.size() ? figure.substr(end + 1) : ""};
    }
    return Error{Fault::bad_input, fmt::format("has no order '{}'", figure.substr(0, figure.find('/'))),
                 ledger.path(), "'ebbtide ledger find' lists the orders; figures are ORDER, ORDER/RUN"};
}

Result<FigurePlace> place_in(Database& ledger, const Entry& statement) {
    FigurePlace place;
    place.statement = statement;
    place.body = json::parse(statement.body);
    const auto record = ledger::segment(ledger, place.body.at("record").get<std::string>());
    if (!record) return record.error();
    place.record = json::parse(*record);
    return place;
}

/// The finding of the group; the only one where no group is named.
Result<std::size_t> finding_of(const json& requirement, const std::string& group) {
    const json& findings = requirement.at("findings");
    std::vector<std::string> groups;
    for (const json& finding : findings) groups.push_back(finding.at("group").get<std::string>());
    if (group.empty() && groups.size() == 1) return std::size_t{0};
    const auto found = std::ranges::find(groups, group);
    if (!group.empty() && found != groups.end()) return static_cast<std::size_t>(found - groups.begin());
    const std::string id = requirement.at("id").get<std::string>();
    if (groups.empty())
        return Error{Fault::bad_input, fmt::format("requirement '{}' has no result", id), "", "Ask another"};
    return Error{Fault::bad_input,
                 group.empty() ? fmt::format("requirement '{}' has {} results", id, groups.size())
                               : fmt::format("requirement '{}' has no result of '{}'", id, group),
                 "--group", "Name one: " + listed(groups)};
}

/// Whether the statement has a run or requirement of this name; `place` then points at it.
Result<bool> point_at(FigurePlace& place, const std::string& rest, const std::string& group) {
    const json& judgement = place.record.at("judgement");
    const std::string order = place.statement.id;
    std::vector<NamedRun> runs;
    for (std::size_t i = 0; i < judgement.at("runs").size(); ++i)
        runs.push_back({place.body.at("runs").at(i).get<std::string>(),
                        judgement["runs"][i].at("label").get<std::string>()});
    const auto run = place_of_run(runs, order, rest);
    if (!run) return run.error();
    if (*run) {
        place.of = FigurePlace::Of::run;
        place.run = **run;
        return true;
    }
    const json& requirements = judgement.at("requirements");
    for (std::size_t i = 0; i < requirements.size(); ++i) {
        if (requirements[i].at("id") != rest) continue;
        const auto finding = finding_of(requirements[i], group);
        if (!finding) return finding.error();
        place.of = FigurePlace::Of::result;
        place.requirement = i;
        place.finding = *finding;
        return true;
    }
    return false;
}

Error no_such(const FigurePlace& newest, const std::string& rest) {
    std::vector<std::string> there;
    const json& judgement = newest.record.at("judgement");
    for (const json& requirement : judgement.at("requirements"))
        there.push_back(requirement.at("id").get<std::string>());
    for (const json& run : judgement.at("runs")) there.push_back(run.at("label").get<std::string>());
    return {Fault::bad_input, fmt::format("has no run or requirement '{}'", rest),
            "order " + newest.statement.id, "There are: " + listed(there)};
}

Result<FigurePlace> looked_up(Database& ledger, const FigureName& name) {
    const auto split = split_of(ledger, name.figure);
    if (!split) return split.error();
    const auto& statements = split->statements;
    const auto wanted = [&](const Entry& one) {
        return !one.voided && (!name.revision || one.revision == *name.revision);
    };
    std::optional<FigurePlace> newest;
    for (auto one = statements.rbegin(); one != statements.rend(); ++one) {
        if (!wanted(*one)) continue;
        auto place = place_in(ledger, *one);
        if (!place) return place.error();
        if (split->rest.empty()) return place;
        const auto found = point_at(*place, split->rest, name.group);
        if (!found) return found.error();
        if (*found) return place;
        if (!newest) newest = std::move(place).value();
    }
    if (newest) return no_such(*newest, split->rest);
    return Error{Fault::bad_input,
                 fmt::format("has no revision {} of the statement that holds figures",
                             name.revision.value_or(statements.back().revision)),
                 "order " + statements.front().id,
                 fmt::format("'ebbtide ledger revisions {}' lists them", statements.front().id)};
}

}  // namespace

Result<std::optional<std::size_t>> place_of_run(const std::vector<NamedRun>& runs, const std::string& order,
                                                const std::string& name) {
    const std::string whole = order + "/" + name;
    std::vector<std::size_t> found;
    for (std::size_t i = 0; i < runs.size(); ++i) {
        if (runs[i].entry == whole) return std::optional(i);
        const bool begins = name.size() >= shortest_beginning && runs[i].entry.starts_with(whole);
        if (begins || runs[i].label == name) found.push_back(i);
    }
    if (found.size() < 2) return found.empty() ? std::optional<std::size_t>() : std::optional(found.front());
    std::vector<std::string> ids;
    for (const std::size_t i : found) ids.push_back(runs[i].entry.substr(order.size() + 1));
    return Error{Fault::bad_input, fmt::format("has {} runs '{}'", found.size(), name), "order " + order,
                 "Name one by its id or the beginning of it: " + listed(ids)};
}

Result<FigurePlace> figure_place(Database& ledger, const FigureName& name) {
    try {
        return looked_up(ledger, name);
    } catch (const json::exception&) {
        return Error{Fault::inconsistent, fmt::format("what is kept of '{}' is not whole", name.figure),
                     ledger.path(), "Run 'ebbtide ledger check'"};
    }
}

}  // namespace ebbtide::work
