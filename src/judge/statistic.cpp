#include "judge/statistic.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "judge/advice.hpp"
#include "judge/decide.hpp"
#include "judge/uncertainty_of.hpp"

namespace ebbtide::judge {
namespace {

using decay::LevelStatus;
using plan::Conformity;

std::string key_of(const JudgedRun& run, const plan::Order& order, plan::GroupKey key) {
    const plan::Specimen* specimen = order.specimen(run.key.specimen);
    switch (key) {
        case plan::GroupKey::specimen:
            return run.key.specimen;
        case plan::GroupKey::direction:
            return specimen ? specimen->direction : "";
        case plan::GroupKey::face:
            return run.key.face;
        case plan::GroupKey::polarity:
            return plan::sign_of(run.key.polarity);
        case plan::GroupKey::state:
            return specimen ? specimen->state : "";
        case plan::GroupKey::conditions:
            return run.key.conditions;
    }
    return "";
}

/// What a run contributes: a value, a bound, or nothing (too noisy, refused, not asked for).
struct Part {
    BoundKind bound = BoundKind::none;
    double value_s = 0;
    const decay::LevelFigure* figure = nullptr;
};

Part part_of(const JudgedRun& run, const plan::Level& level) {
    const decay::LevelFigure* figure = figure_at(run, level);
    if (!figure) return {};
    switch (figure->status) {
        case LevelStatus::measured:
            return {BoundKind::value, *figure->decay_s, figure};
        case LevelStatus::not_reached:
            return {BoundKind::at_least, figure->at_least_s.value_or(0), figure};
        case LevelStatus::below_resolution:
            return {BoundKind::at_most, *figure->at_most_s, figure};
        case LevelStatus::extrapolated:  // with a time only where the method allows it
            if (figure->decay_s) return {BoundKind::value, *figure->decay_s, figure};
            [[fallthrough]];
        case LevelStatus::too_noisy:
        case LevelStatus::refused:
            return {BoundKind::none, 0, figure};
    }
    return {};
}

BoundKind together(const std::vector<Part>& parts) {
    const auto any = [&](BoundKind kind) {
        return std::ranges::any_of(parts, [&](const Part& p) { return p.bound == kind; });
    };
    if (any(BoundKind::none) || (any(BoundKind::at_least) && any(BoundKind::at_most))) return BoundKind::none;
    if (any(BoundKind::at_least)) return BoundKind::at_least;
    return any(BoundKind::at_most) ? BoundKind::at_most : BoundKind::value;
}

}  // namespace

const decay::LevelFigure* figure_at(const JudgedRun& run, const plan::Level& level) {
    if (!run.figures) return nullptr;
    const auto found = std::ranges::find_if(
        run.figures->levels, [&](const decay::LevelFigure& figure) { return figure.level.same_as(level); });
    return found == run.figures->levels.end() ? nullptr : &*found;
}

std::vector<Group> groups_of(std::span<const JudgedRun> runs, const plan::Order& order,
                             const plan::Requirement& requirement) {
    std::vector<Group> groups;
    for (std::size_t i = 0; i < runs.size(); ++i) {
        if (!runs[i].counts) continue;
        std::string label;
        if (requirement.statistic == plan::Statistic::each_run) {
            groups.push_back({runs[i].key.label(), {i}});
            continue;
        }
        for (const plan::GroupKey key : requirement.group_by) {
            const std::string part = key_of(runs[i], order, key);
            if (!part.empty()) label += (label.empty() ? "" : ", ") + part;
        }
        if (label.empty()) label = "all runs";
        const auto found = std::ranges::find(groups, label, &Group::label);
        if (found == groups.end())
            groups.push_back({label, {i}});
        else
            found->runs.push_back(i);
    }
    return groups;
}

Finding finding_for(const Group& group, std::span<const JudgedRun> runs, const plan::Requirement& requirement,
                    const plan::DecisionRule& rule) {
    Finding finding;
    finding.group = group.label;
    finding.runs = group.runs;

    for (const std::size_t i : group.runs) {
        if (!runs[i].fails) continue;
        const auto cause =
            std::ranges::find(runs[i].flags, plan::Consequence::fail_specimen, &plan::Flag::consequence);
        finding.outcome = Conformity::fail;
        finding.reason = fmt::format("{}: {}", runs[i].key.label(), cause->message);
        return finding;
    }

    std::vector<Part> parts;
    for (const std::size_t i : group.runs) {
        parts.push_back(part_of(runs[i], requirement.level));
        if (parts.back().bound != BoundKind::none) continue;
        const decay::LevelFigure* figure = parts.back().figure;
        finding.reason = fmt::format(
            "{}: {}", runs[i].key.label(),
            figure ? fmt::format("{}: {}", plan::in_words(decay::name_of(figure->status)), figure->reason)
                   : fmt::format("the method takes no decay time to {}", requirement.level.label()));
    }
    finding.bound = together(parts);
    if (finding.bound == BoundKind::none && finding.reason.empty())
        finding.reason =
            "some runs did not reach the level and others are below resolution: their mean is not bounded";

    const double n = static_cast<double>(parts.size());
    double mean_s = 0;
    for (const Part& part : parts) mean_s += part.value_s / n;
    if (finding.bound != BoundKind::none) finding.value_s = mean_s;
    if (finding.bound == BoundKind::value) {
        finding.budget = budget_of_mean(group.runs, runs, requirement.level);
        const Sum sum = sum_of(finding.budget);
        finding.u_s = sum.u_s;
        finding.expanded_u_s = sum.expanded_u_s;
        finding.degrees_of_freedom = sum.degrees_of_freedom;
        if (parts.size() >= 2) {
            double squares = 0;
            for (const Part& part : parts) squares += (part.value_s - mean_s) * (part.value_s - mean_s);
            finding.spread_s = std::sqrt(squares / (n - 1));
        }
    }
    decide(finding, requirement, rule);
    advise(finding, requirement, rule);
    return finding;
}

}  // namespace ebbtide::judge
