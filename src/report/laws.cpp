#include <fmt/format.h>

#include <algorithm>

#include "basis/number_text.hpp"
#include "report/chapters.hpp"
#include "report/law_words.hpp"
#include "report/residual_plot.hpp"
#include "report/words.hpp"

namespace ebbtide::report {
namespace {

/// Of a run that counts; of others a law says little.
const decay::LawFigures* counted_law(const judge::JudgedRun& run) {
    return run.counts && run.figures && run.figures->law ? &*run.figures->law : nullptr;
}

bool has_residuals(const judge::JudgedRun& run) {
    const decay::LawFigures* law = counted_law(run);
    return law != nullptr && !law->residuals.empty();
}

std::string verdict_of(const decay::LawFigures& law) {
    if (!law.chosen || !law.adequate) return "not judged";
    return *law.adequate ? "yes" : "no";
}

std::string sides_text(const decay::LawFigures& law) {
    if (!law.sides) return "–";
    if (law.sides->agree) return "mirrors it";
    if (!law.sides->difference) return "of another shape";
    return fmt::format("{}{} %", *law.sides->difference < 0 ? "−" : "+",
                       significant_text(100 * std::abs(*law.sides->difference), 2));
}

Table laws_table(const judge::Judgement& judgement) {
    Table table;
    table.clause = "7.8.2.1 m";
    table.columns = {{"run", one_line},
                     {"law", one_line},
                     {"time constants and shape"},
                     {"describes it", one_line},
                     {"next best, AICc", one_line},
                     {"charging side", one_line}};
    for (const judge::JudgedRun& run : judgement.runs) {
        const decay::LawFigures* law = counted_law(run);
        if (law == nullptr) continue;
        const decay::LawCandidate* shown = shown_candidate(*law);
        std::vector<Cell> row{Cell{run.key.label(), {}, false, true}};
        if (law->missing.empty() && shown != nullptr) {
            const bool none = !law->chosen || (law->adequate && !*law->adequate);
            row.push_back({none ? "none; closest: " + words_for(shown->kind) : words_for(shown->kind),
                           {},
                           false,
                           false});
            row.push_back({shape_text(*shown), {}, none, false});
            row.push_back({verdict_of(*law), {}, false, false});
            row.push_back({next_best_text(*law), {}, true, false});
            row.push_back({sides_text(*law), {}, false, false});
        } else {
            row.push_back({"not fitted", {}, true, false});
            row.push_back({law->missing, {}, true, false});
            row.resize(table.columns.size(), Cell{"–", {}, true, false});
        }
        table.rows.push_back(std::move(row));
    }
    return table;
}

/// One row a run, one column a level that some record does not reach.
Table beyond_table(const judge::Judgement& judgement) {
    Table table;
    std::vector<plan::Level> levels;
    for (const judge::JudgedRun& run : judgement.runs)
        if (const decay::LawFigures* law = counted_law(run))
            for (const decay::Extrapolated& time : law->extrapolated)
                if (std::ranges::find(levels, time.level) == levels.end()) levels.push_back(time.level);
    if (levels.empty()) return table;
    table.title = "Beyond the record: extrapolated, not measured";
    table.columns = {{"run", one_line}, {"record ends at, s", number}};
    for (const plan::Level& level : levels)
        table.columns.push_back({fmt::format("≈ t({}), s", level.label()), one_line});
    for (const judge::JudgedRun& run : judgement.runs) {
        const decay::LawFigures* law = counted_law(run);
        if (law == nullptr || law->extrapolated.empty()) continue;
        std::vector<Cell> row{Cell{run.key.label(), {}, false, true},
                              Cell{significant_text(run.figures->record_s, 3), {}, true, false}};
        for (const plan::Level& level : levels) {
            const auto said = std::ranges::find(law->extrapolated, level, &decay::Extrapolated::level);
            row.push_back(
                {said == law->extrapolated.end() ? "–" : "≈ " + extrapolated_text(*said), {}, true, false});
        }
        table.rows.push_back(std::move(row));
    }
    return table;
}

/// Of the result that lies closest to its limit; else the first that counts.
const judge::JudgedRun* deciding_run(const judge::Judgement& judgement) {
    if (const auto deciding = deciding_result(judgement))
        for (const std::size_t i : deciding->finding->runs)
            if (has_residuals(judgement.runs.at(i))) return &judgement.runs.at(i);
    for (const judge::JudgedRun& run : judgement.runs)
        if (has_residuals(run)) return &run;
    return nullptr;
}

std::vector<ResidualPanel> panels_of(const judge::Judgement& judgement) {
    std::vector<ResidualPanel> panels;
    for (const judge::JudgedRun& run : judgement.runs) {
        if (!has_residuals(run)) continue;
        auto panel = std::ranges::find(panels, run.key.specimen, &ResidualPanel::title);
        if (panel == panels.end()) panel = panels.insert(panels.end(), {run.key.specimen, {}});
        panel->runs.push_back(&run);
    }
    return panels;
}

}  // namespace

void add_laws(Document& document, const ReportInput& input) {
    const judge::Judgement& judgement = input.record.judgement;
    Table table = laws_table(judgement);
    if (table.rows.empty()) return;
    auto& blocks = document.blocks;
    blocks.emplace_back(Heading{"The law of the fall"});
    if (const judge::JudgedRun* run = deciding_run(judgement)) {
        const auto trace = input.traces.find(run->run_id);
        blocks.emplace_back(FigureRow{
            {fit_plot(run_name(run->key), law_sentence(*counted_law(*run)),
                      {run, trace == input.traces.end() ? nullptr : &trace->second}, text_width_pt)}});
    }
    if (judgement.runs.size() > 1)
        for (Picture& row : residual_panels(panels_of(judgement), text_width_pt))
            blocks.emplace_back(FigureRow{{std::move(row)}});
    if (auto* drawn = std::get_if<FigureRow>(&blocks.back())) {
        drawn->keep_with_next = true;
        blocks.emplace_back(
            Paragraph{"Above: a fall with its law (dashed), and what the law leaves, as means of stretches "
                      "of the record. Below: "
                      "the same of every run that counts, in units of its noise, cut off at the edges, "
                      "against the time "
                      "after the release in seconds. The band holds 95 "
                      "% of such means "
                      "when the law is right; a wave through it says that the law is not.",
                      Paragraph::Look::note, ""});
    }
    const std::string same = lift_constant_columns(table);
    blocks.emplace_back(std::move(table));
    blocks.emplace_back(Paragraph{same + "Laws are fitted from where the electrode has come to rest to the "
                                         "end of the record. T: time constant, "
                                         "with its standard uncertainty. Describes it: what the law leaves "
                                         "is explained by the noise. Next best: "
                                         "by how much the criterion (AICc, on independent samples) of the "
                                         "runner-up is higher; up to 2 it is "
                                         "as good. Charging side: whether it mirrors the fall, as it does in "
                                         "a linear sheet. A law that describes "
                                         "a fall proves no mechanism.",
                                  Paragraph::Look::note, ""});
    if (Table beyond = beyond_table(judgement); !beyond.rows.empty()) {
        blocks.emplace_back(std::move(beyond));
        blocks.emplace_back(
            Paragraph{"What the laws together say of levels that the record does not reach, with the ends of "
                      "the 95 % interval; it holds only if the fall goes on by one of these laws.",
                      Paragraph::Look::note, ""});
    }
}

}  // namespace ebbtide::report
