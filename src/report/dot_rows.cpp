#include "report/dot_rows.hpp"

#include <algorithm>
#include <set>

namespace ebbtide::report {
namespace {

bool same(const plan::Level& a, const plan::Level& b) {
    return a.kind == b.kind && a.value == b.value;
}

std::string group_of(const plan::Order& order, const std::string& id) {
    const plan::Specimen* specimen = order.specimen(id);
    if (specimen == nullptr) return "";
    if (specimen->direction.empty() || specimen->state.empty()) return specimen->direction + specimen->state;
    return specimen->direction + ", " + specimen->state;
}

/// Rows of runs with the group that each belongs to.
std::vector<std::pair<std::string, DotRow>> run_rows(const judge::Judgement& judgement,
                                                     const plan::Order& order) {
    std::set<std::string> faces, conditions;
    for (const judge::JudgedRun& run : judgement.runs) {
        faces.insert(run.key.face);
        conditions.insert(run.key.conditions);
    }
    std::vector<std::pair<std::string, DotRow>> rows;
    for (const judge::JudgedRun& run : judgement.runs) {
        std::string label = run.key.specimen;
        if (faces.size() > 1) label += " " + run.key.face;
        if (conditions.size() > 1) label += " " + run.key.conditions;
        auto found = std::ranges::find_if(rows, [&](const auto& row) { return row.second.label == label; });
        if (found == rows.end())
            found = rows.insert(rows.end(), {group_of(order, run.key.specimen), {label, false, {}, nullptr}});
        found->second.runs.push_back(&run);
    }
    return rows;
}

}  // namespace

const decay::LevelFigure* figure_at(const judge::JudgedRun& run, const plan::Level& level) {
    if (!run.figures) return nullptr;
    for (const decay::LevelFigure& figure : run.figures->levels)
        if (same(figure.level, level)) return &figure;
    return nullptr;
}

std::optional<double> place_of(const decay::LevelFigure& figure) {
    if (figure.decay_s) return figure.decay_s;
    return figure.at_least_s ? figure.at_least_s : figure.at_most_s;
}

std::vector<double> limits_on(const judge::Judgement& judgement, const plan::Level& level) {
    std::set<double> limits;
    for (const judge::RequirementOutcome& outcome : judgement.requirements)
        if (same(outcome.requirement.level, level)) limits.insert(outcome.requirement.limit_s);
    return {limits.begin(), limits.end()};
}

std::vector<DotRow> dot_rows(const judge::Judgement& judgement, const plan::Order& order,
                             const plan::Level& level) {
    const auto runs = run_rows(judgement, order);
    std::vector<std::string> groups;
    for (const auto& [group, row] : runs)
        if (std::ranges::find(groups, group) == groups.end()) groups.push_back(group);
    std::vector<DotRow> rows;
    for (const std::string& wanted : groups) {
        if (!wanted.empty()) rows.push_back({wanted, true, {}, nullptr});
        for (const auto& [group, row] : runs)
            if (group == wanted) rows.push_back(row);
    }
    bool headed = false;
    for (const judge::RequirementOutcome& outcome : judgement.requirements) {
        if (outcome.requirement.statistic != plan::Statistic::mean || !same(outcome.requirement.level, level))
            continue;
        for (const judge::Finding& finding : outcome.findings) {
            if (!finding.value_s) continue;
            if (!headed) rows.push_back({"means, with U at 95 %", true, {}, nullptr});
            headed = true;
            rows.push_back({finding.group, false, {}, &finding});
        }
    }
    return rows;
}

}  // namespace ebbtide::report
