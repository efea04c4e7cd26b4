#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "basis/number_text.hpp"
#include "report/chapters.hpp"
#include "report/words.hpp"

namespace ebbtide::report {
namespace {

struct Deciding {
    const judge::JudgedRun* run = nullptr;
    const decay::LevelFigure* figure = nullptr;
    std::optional<double> limit_s;
};

/// The counting run whose measured decay time lies closest to a limit on its level, in parts of the limit;
/// the first measured one where there is no limit.
Deciding deciding_run(const judge::Judgement& judgement) {
    Deciding chosen;
    double closest = HUGE_VAL;
    for (const judge::JudgedRun& run : judgement.runs) {
        if (!run.counts || !run.figures) continue;
        for (const decay::LevelFigure& figure : run.figures->levels) {
            if (!figure.decay_s || figure.budget.empty()) continue;
            if (chosen.run == nullptr) chosen = {&run, &figure, {}};
            for (const judge::RequirementOutcome& outcome : judgement.requirements) {
                const plan::Requirement& requirement = outcome.requirement;
                if (requirement.level.kind != figure.level.kind ||
                    requirement.level.value != figure.level.value || !(requirement.limit_s > 0))
                    continue;
                const double distance = std::abs(*figure.decay_s / requirement.limit_s - 1);
                if (distance >= closest) continue;
                closest = distance;
                chosen = {&run, &figure, requirement.limit_s};
            }
        }
    }
    return chosen;
}

/// One line on what a source means and what would lessen it; by the words of its name.
std::string_view explanation(const std::string& source) {
    struct Row {
        std::string_view word, text;
    };
    constexpr Row rows[] = {
        {"second order", "The curve flattens: noise that is even in volts is uneven in seconds."},
        {"lag model", "What is left when the sensor's lag is taken off as a plain delay."},
        {"skew", "Delay between the channels of the recorder."},
        {"humidity", "Conduction of most sheet goods changes steeply with humidity."},
        {"temperature", "Conduction changes with the temperature of the specimen."},
        {"noise", "Scatter of the samples where the curve crosses the level; averages down over runs."},
        {"zero", "A wrong zero shifts the level most where the curve is low; a proven zero state helps."},
        {"initial", "The level is a fraction of V0, so an error of V0 moves it."},
        {"V0", "The level is a fraction of V0, so an error of V0 moves it."},
        {"release", "The clock starts at the release; a recorded electrode voltage pins it down."},
        {"sampling", "What lies between two samples; a higher sampling rate helps."},
        {"curvature", "The local line through a curved fall."},
        {"time base", "The recorder's clock, in parts of the time."},
        {"lag", "The field sensor follows with a delay."},
        {"linearity", "The sensor's gain differs between V0 and the level."},
        {"gain", "Counts only for levels given in volts."},
        {"induced", "What the sensor sees of the clamps."},
    };
    for (const Row& row : rows)
        if (source.find(row.word) != std::string::npos) return row.text;
    return "";
}

std::string relative_text(double u) {
    return significant_text(100 * u, 2) + " %";
}

std::string sensitivity_text(const decay::Contribution& line) {
    if (line.unit.empty() || line.unit == "1") return prefixed_text(line.sensitivity, 3, "s");
    if (line.unit == "s") return significant_text(line.sensitivity, 3);
    return prefixed_text(line.sensitivity, 3, "s/" + line.unit);
}

/// Places that give three digits of the sum; every line of the budget is written with them.
int places_for(double u_s) {
    return u_s > 0 ? std::clamp(2 - static_cast<int>(std::floor(std::log10(u_s))), 0, 12) : 4;
}

std::string contribution_text(double u_s, int places) {
    const double smallest = std::pow(10.0, -places);
    return u_s > 0 && u_s < smallest / 2 ? "< " + fixed_text(smallest, places) : fixed_text(u_s, places);
}

Table budget_table(const decay::LevelFigure& figure) {
    Table table;
    table.clause = "7.8.3.1 c";
    table.columns = {{"source"},
                     {"u", number},
                     {"sensitivity", number},
                     {"gives, s", number},
                     {"share of variance", number},
                     {"degrees of freedom", number},
                     {"shared over", one_line},
                     {"what it is"}};
    std::vector<const decay::Contribution*> lines;
    double variance = 0;
    for (const decay::Contribution& line : figure.budget) {
        lines.push_back(&line);
        variance += line.u_s() * line.u_s();
    }
    const int places = places_for(std::sqrt(variance));
    std::ranges::stable_sort(lines, std::greater{},
                             [](const decay::Contribution* line) { return line->u_s(); });
    for (const decay::Contribution* line : lines) {
        const bool relative = line->unit.empty() || line->unit == "1";
        std::string what(explanation(line->source));
        if (!line->correlated_with.empty())
            what += (what.empty() ? "" : " ") + fmt::format("Correlated with {}.", line->correlated_with);
        table.rows.push_back(
            {Cell{line->source, {}, false, true},
             Cell{
                 relative ? relative_text(line->u) : prefixed_text(line->u, 2, line->unit), {}, false, false},
             Cell{sensitivity_text(*line), {}, false, false},
             Cell{contribution_text(line->u_s(), places), {}, false, false},
             Cell{variance > 0 ? percent_text(line->u_s() * line->u_s() / variance) : "–", {}, false, false},
             Cell{
                 line->degrees_of_freedom ? fixed_text(*line->degrees_of_freedom, 0) : "∞", {}, false, false},
             Cell{std::string(words_for(line->scope)), {}, false, false}, Cell{what, {}, true, false}});
    }
    return table;
}

/// What the judgement says of groups that hold the run at this level: u, U, k and, apart from them, the
/// spread.
std::vector<std::string> expanded(const judge::Judgement& judgement, const Deciding& chosen) {
    const auto index = static_cast<std::size_t>(chosen.run - judgement.runs.data());
    std::vector<std::string> sentences;
    for (const judge::RequirementOutcome& outcome : judgement.requirements) {
        const plan::Level& level = outcome.requirement.level;
        if (level.kind != chosen.figure->level.kind || level.value != chosen.figure->level.value) continue;
        for (const judge::Finding& finding : outcome.findings) {
            if (!finding.expanded_u_s || !finding.u_s || !(*finding.u_s > 0) ||
                std::ranges::find(finding.runs, index) == finding.runs.end())
                continue;
            std::string text = finding.runs.size() == 1
                                   ? finding.group
                                   : fmt::format("mean of {}, n = {}", finding.group, finding.runs.size());
            text += fmt::format(": u = {} s; U = {} s with k = {}", significant_text(*finding.u_s, 2),
                                significant_text(*finding.expanded_u_s, 2),
                                fixed_text(*finding.expanded_u_s / *finding.u_s, 2));
            if (finding.spread_s)
                text += fmt::format("; spread between its runs {} s, stated beside U and not part of it",
                                    significant_text(*finding.spread_s, 2));
            text += ".";
            if (std::ranges::find(sentences, text) == sentences.end()) sentences.push_back(std::move(text));
        }
    }
    return sentences;
}

}  // namespace

void add_uncertainty(Document& document, const ReportInput& input) {
    const judge::Judgement& judgement = input.record.judgement;
    const Deciding chosen = deciding_run(judgement);
    auto& blocks = document.blocks;
    blocks.emplace_back(Heading{"Uncertainty"});
    if (chosen.run == nullptr) {
        blocks.emplace_back(
            Paragraph{"No run that counts has a measured decay time, so there is no budget to show.",
                      Paragraph::Look::body, "7.8.3.1 c"});
        return;
    }
    const decay::LevelFigure& figure = *chosen.figure;
    std::string lead = fmt::format("t({}) of {} is {} s", figure.level.label(), run_name(chosen.run->key),
                                   uncertain_text(*figure.decay_s, figure.u_decay_s));
    if (chosen.limit_s)
        lead += fmt::format("; of all runs that count it lies closest to a limit ({} s)",
                            shortest_text(*chosen.limit_s));
    blocks.emplace_back(
        Paragraph{lead + ". Its budget, largest lines first:", Paragraph::Look::body, "7.8.3.1 c"});
    blocks.emplace_back(budget_table(figure));

    const std::string sum = fmt::format(
        "Standard uncertainty of this decay time u = {} s, {} degrees of freedom (first order, JCGM "
        "100:2008, "
        "clause 5).",
        figure.u_decay_s ? significant_text(*figure.u_decay_s, 2) : "–",
        figure.degrees_of_freedom ? fixed_text(*figure.degrees_of_freedom, 0) : "infinitely many");
    blocks.emplace_back(Paragraph{sum, Paragraph::Look::body, "7.8.3.1 c"});
    if (const auto sentences = expanded(judgement, chosen); !sentences.empty()) {
        blocks.emplace_back(Paragraph{"Expanded, for about 95 %:", Paragraph::Look::body, ""});
        blocks.emplace_back(Bullets{sentences, "7.8.3.1 c"});
    }
    blocks.emplace_back(
        Paragraph{"Only lines shared over this run grow smaller when more runs are averaged; the others "
                  "are common to all of them.",
                  Paragraph::Look::note, ""});
}

}  // namespace ebbtide::report
