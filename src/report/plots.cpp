#include <fmt/format.h>

#include <algorithm>

#include "report/chapters.hpp"
#include "report/dot_plot.hpp"
#include "report/lot_statement.hpp"
#include "report/trace_plot.hpp"

namespace ebbtide::report {
namespace {

constexpr double panel_width = 238;

struct Panel {
    std::string specimen, face, conditions;
    std::vector<PlottedRun> runs;
};

std::vector<Panel> panels_of(const ReportInput& input) {
    std::vector<Panel> panels;
    for (const judge::JudgedRun& run : input.record.judgement.runs) {
        const auto trace = input.traces.find(run.run_id);
        if (run.run_id.empty() || trace == input.traces.end() || trace->second.time_s.empty()) continue;
        const auto same = [&](const Panel& panel) {
            return panel.specimen == run.key.specimen && panel.face == run.key.face &&
                   panel.conditions == run.key.conditions;
        };
        auto panel = std::ranges::find_if(panels, same);
        if (panel == panels.end())
            panel = panels.insert(panels.end(), {run.key.specimen, run.key.face, run.key.conditions, {}});
        panel->runs.push_back({&run, &trace->second});
    }
    return panels;
}

std::string subtitle_of(const Panel& panel, const plan::Order& order) {
    std::vector<std::string> parts{panel.face, panel.conditions};
    if (const plan::Specimen* specimen = order.specimen(panel.specimen)) {
        parts.push_back(specimen->direction);
        parts.push_back(specimen->state);
    }
    std::string text;
    for (const std::string& part : parts)
        if (!part.empty()) text += (text.empty() ? "" : ", ") + part;
    return text;
}

bool guarded(const ReportInput& input) {
    return input.record.order.decision_rule.kind == plan::DecisionRule::Kind::guarded;
}

std::vector<LotBoundRow> bounds_at(const plan::Level& level, std::span<const LotStatement> lots) {
    std::vector<LotBoundRow> out;
    for (const LotStatement& lot : lots) {
        if (!lot.bound || !lot.level || lot.level->kind != level.kind || lot.level->value != level.value)
            continue;
        LotBoundRow row{lot.bound->words, lot.group, lot.bound->upper_s};
        const bool drawn = std::ranges::any_of(
            out, [&](const LotBoundRow& one) { return one.claim == row.claim && one.lot == row.lot; });
        if (!drawn) out.push_back(std::move(row));
    }
    return out;
}

}  // namespace

std::vector<plan::Level> levels_to_show(const record::OrderRecord& record) {
    std::vector<plan::Level> levels;
    for (const judge::RequirementOutcome& outcome : record.judgement.requirements)
        if (!outcome.requirement.supplied) plan::add_once(levels, outcome.requirement.level);
    if (levels.empty())
        for (const plan::Level& level : record.method.decay.levels) plan::add_once(levels, level);
    return levels;
}

void add_dot_plots(Document& document, const ReportInput& input, std::span<const LotStatement> lots) {
    bool drawn = false, bounded = false;
    for (const plan::Level& level : levels_to_show(input.record)) {
        const std::vector<LotBoundRow> bounds = bounds_at(level, lots);
        bounded = bounded || !bounds.empty();
        for (Picture& picture :
             dot_plots(input.record.judgement, input.record.order, level, text_width_pt, bounds)) {
            if (!drawn) document.blocks.emplace_back(Heading{"Decay times against the limits"});
            drawn = true;
            document.blocks.emplace_back(FigureRow{{std::move(picture)}});
        }
    }
    if (!drawn) return;
    std::get<FigureRow>(document.blocks.back()).keep_with_next = true;
    document.blocks.emplace_back(Paragraph{
        "Dots: measured, with twice the standard uncertainty; positive runs (blue) above their "
        "line, negative (rust) "
        "below. Open dots: bounds, with an arrow to where the true value may lie, or extrapolated "
        "times, with a dashed bar. Crosses: runs "
        "that do not count. "
        "Short bars: means of specimens." +
            std::string(guarded(input) ? " Hatched: the guard band of each row's results, where an "
                                         "outcome is conditional."
                                       : "") +
            std::string(bounded ? " Diamonds: what the share of the lot named takes at most, as surely as "
                                  "is said; an arrow where that lies beyond the axis."
                                : ""),
        Paragraph::Look::note, ""});
}

void add_curves(Document& document, const ReportInput& input) {
    const std::vector<Panel> panels = panels_of(input);
    if (panels.empty()) return;
    document.blocks.emplace_back(Heading{"The curves, specimen by specimen"});

    // One time axis for all, so that panels compare at a glance, unless that would squeeze some into a
    // corner.
    std::vector<double> wanted_s;
    for (const Panel& panel : panels) wanted_s.push_back(wanted_time_s(panel.runs).value_or(1));
    const auto [shortest, longest] = std::ranges::minmax_element(wanted_s);
    const double longest_s = *longest;
    const bool shared = longest_s <= 4 * *shortest;
    for (std::size_t i = 0; i < panels.size(); i += 2) {
        FigureRow row;
        for (std::size_t j = i; j < std::min(i + 2, panels.size()); ++j)
            row.pictures.push_back(trace_plot(panels[j].specimen, subtitle_of(panels[j], input.record.order),
                                              panels[j].runs, shared ? longest_s : wanted_s[j], panel_width));
        document.blocks.emplace_back(std::move(row));
    }
    document.blocks.emplace_back(Paragraph{
        std::string(
            "Voltages after zero and sign: negative runs are turned up. Lines follow the samples; nothing is "
            "smoothed. Circles mark the crossings of positive runs, diamonds those of negative ones; the "
            "times "
            "beside them are from the first to the last of the runs that count. ") +
            (shared ? "All panels share one time axis." : "Time axes differ between panels."),
        Paragraph::Look::note, ""});
}

}  // namespace ebbtide::report
