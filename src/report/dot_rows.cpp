#include "report/dot_rows.hpp"

#include <algorithm>
#include <set>

namespace ebbtide::report {
namespace {

std::string group_of(const plan::Order& order, const std::string& id) {
    const plan::Specimen* specimen = order.specimen(id);
    if (specimen == nullptr) return "";
    if (specimen->direction.empty() || specimen->state.empty()) return specimen->direction + specimen->state;
    return specimen->direction + ", " + specimen->state;
}

void add_guard(std::vector<GuardBand>& guards, double limit_s, const std::optional<double>& width_s) {
    if (!width_s || !(*width_s > 0)) return;
    const auto found = std::ranges::find(guards, limit_s, &GuardBand::limit_s);
    if (found == guards.end())
        guards.push_back({limit_s, *width_s});
    else
        found->width_s = std::max(found->width_s, *width_s);
}

/// The bands of the requirements that are asked of single runs.
void add_guards(DotRow& row, const judge::Judgement& judgement, const plan::Level& level) {
    for (const judge::RequirementOutcome& outcome : judgement.requirements) {
        if (outcome.requirement.statistic != plan::Statistic::each_run ||
            !plan::asks_for(outcome.requirement, level))
            continue;
        for (const judge::Finding& finding : outcome.findings)
            for (const std::size_t run : finding.runs)
                if (std::ranges::find(row.runs, &judgement.runs[run]) != row.runs.end())
                    add_guard(row.guards, outcome.requirement.limit_s, finding.guard_s);
    }
}

/// Rows of runs with the group that each belongs to.
std::vector<std::pair<std::string, DotRow>> run_rows(const judge::Judgement& judgement,
                                                     const plan::Order& order) {
    std::set<std::string> faces, conditions;
    for (const judge::JudgedRun& run : judgement.runs) {
        if (run.without_specimen) continue;  // nothing decays there
        faces.insert(run.key.face);
        conditions.insert(run.key.conditions);
    }
    std::vector<std::pair<std::string, DotRow>> rows;
    for (const judge::JudgedRun& run : judgement.runs) {
        if (run.without_specimen) continue;
        std::string label = run.key.specimen;
        if (faces.size() > 1) label += " " + run.key.face;
        if (conditions.size() > 1) label += " " + run.key.conditions;
        auto found = std::ranges::find_if(rows, [&](const auto& row) { return row.second.label == label; });
        if (found == rows.end())
            found =
                rows.insert(rows.end(), {group_of(order, run.key.specimen), {label, false, {}, nullptr, {}}});
        found->second.runs.push_back(&run);
    }
    return rows;
}

}  // namespace

const decay::LevelFigure* figure_at(const judge::JudgedRun& run, const plan::Level& level) {
    if (!run.figures) return nullptr;
    for (const decay::LevelFigure& figure : run.figures->levels)
        if (figure.level.same_as(level)) return &figure;
    return nullptr;
}

std::optional<double> place_of(const decay::LevelFigure& figure) {
    if (figure.decay_s) return figure.decay_s;
    return figure.at_least_s ? figure.at_least_s : figure.at_most_s;
}

std::vector<double> limits_on(const judge::Judgement& judgement, const plan::Level& level) {
    std::set<double> limits;
    for (const judge::RequirementOutcome& outcome : judgement.requirements)
        if (plan::asks_for(outcome.requirement, level)) limits.insert(outcome.requirement.limit_s);
    return {limits.begin(), limits.end()};
}

std::vector<DotRow> dot_rows(const judge::Judgement& judgement, const plan::Order& order,
                             const plan::Level& level) {
    auto runs = run_rows(judgement, order);
    for (auto& entry : runs) add_guards(entry.second, judgement, level);
    std::vector<std::string> groups;
    for (const auto& [group, row] : runs)
        if (std::ranges::find(groups, group) == groups.end()) groups.push_back(group);
    std::vector<DotRow> rows;
    for (const std::string& wanted : groups) {
        if (!wanted.empty()) rows.push_back({wanted, true, {}, nullptr, {}});
        for (const auto& [group, row] : runs)
            if (group == wanted) rows.push_back(row);
    }
    bool headed = false;
    for (const judge::RequirementOutcome& outcome : judgement.requirements) {
        if (outcome.requirement.statistic != plan::Statistic::mean ||
            !plan::asks_for(outcome.requirement, level))
            continue;
        for (const judge::Finding& finding : outcome.findings) {
            if (!finding.value_s) continue;
            if (!headed) rows.push_back({"means, with U at 95 %", true, {}, nullptr, {}});
            headed = true;
            rows.push_back({finding.group, false, {}, &finding, {}});
            add_guard(rows.back().guards, outcome.requirement.limit_s, finding.guard_s);
        }
    }
    return rows;
}

}  // namespace ebbtide::report
