#include <fmt/format.h>

#include <algorithm>

#include "basis/number_text.hpp"
#include "report/chapters.hpp"
#include "report/words.hpp"

namespace ebbtide::report {
namespace {

constexpr std::size_t levels_beside_figures = 3, levels_per_table = 6;

std::string short_name(const plan::RunKey& key) {
    std::string text = key.specimen;
    for (const std::string& part : {key.face, key.conditions})
        if (!part.empty()) text += " " + part;
    return fmt::format("{} {} {}", text, key.polarity == plan::Polarity::positive ? "+" : "−", key.replicate);
}

std::string optional_percent(const std::optional<double>& fraction) {
    return fraction ? percent_text(*fraction) : "–";
}

std::string optional_number(const std::optional<double>& value, int digits) {
    return value ? significant_text(*value, digits) : "–";
}

/// Levels of the runs, in the order in which they first appear.
std::vector<plan::Level> levels_of(const std::vector<judge::JudgedRun>& runs) {
    std::vector<plan::Level> levels;
    for (const judge::JudgedRun& run : runs) {
        if (!run.figures) continue;
        for (const decay::LevelFigure& figure : run.figures->levels)
            if (std::ranges::find(levels, figure.level) == levels.end()) levels.push_back(figure.level);
    }
    return levels;
}

Cell time_cell(const judge::JudgedRun& run, const plan::Level& level) {
    if (!run.figures) return {"–", {}, true, false};
    for (const decay::LevelFigure& figure : run.figures->levels)
        if (figure.level == level) return {decay_text(figure), {}, !run.counts, false};
    return {"–", {}, true, false};
}

std::string flags_text(const judge::JudgedRun& run, const FlagLetters& letters) {
    std::string text;
    for (const plan::FlagCode code : letters.codes)
        if (std::ranges::any_of(run.flags, [&](const plan::Flag& f) { return f.code == code; }))
            text += (text.empty() ? "" : " ") + letters.letter.at(code);
    if (run.fails) text += text.empty() ? "fails" : "; fails";
    if (!run.counts) text += text.empty() ? "does not count" : "; does not count";
    return text;
}

std::string time_head(const plan::Level& level) {
    return fmt::format("t({}), s", level.label());
}

Table main_table(const judge::Judgement& judgement, const std::vector<plan::Level>& levels) {
    const FlagLetters letters = flag_letters(judgement);
    Table table;
    table.clause = "7.8.2.1 m";
    table.columns = {
        {"run", false}, {"V0, V", true}, {"accepted", true}, {"prompt drop", true}, {"residual, V", true}};
    const std::size_t shown = levels.size() <= levels_beside_figures ? levels.size() : 0;
    for (std::size_t i = 0; i < shown; ++i) table.columns.push_back({time_head(levels[i]), true});
    table.columns.push_back({"flags", false});
    for (const judge::JudgedRun& run : judgement.runs) {
        const bool muted = !run.counts;
        std::vector<Cell> row{Cell{short_name(run.key), {}, muted, !muted}};
        if (run.figures) {
            const decay::Figures& f = *run.figures;
            row.push_back(
                {f.initial_voltage_V ? uncertain_text(*f.initial_voltage_V, f.u_initial_voltage_V) : "–",
                 {},
                 muted,
                 false});
            row.push_back({optional_percent(f.accepted_fraction), {}, muted, false});
            row.push_back({optional_percent(f.prompt_drop), {}, muted, false});
            row.push_back({f.residual_V ? fixed_text(*f.residual_V, 1) : "–", {}, muted, false});
        } else {
            row.resize(5, Cell{"–", {}, true, false});
        }
        for (std::size_t i = 0; i < shown; ++i) row.push_back(time_cell(run, levels[i]));
        row.push_back({run.run_id.empty() ? "not recorded" + (flags_text(run, letters).empty()
                                                                  ? std::string()
                                                                  : "; " + flags_text(run, letters))
                                          : flags_text(run, letters),
                       {},
                       muted,
                       false});
        table.rows.push_back(std::move(row));
    }
    return table;
}

Table times_table(const judge::Judgement& judgement, const std::vector<plan::Level>& levels,
                  std::size_t first) {
    Table table;
    table.title = "Decay times, s";
    table.clause = "7.8.2.1 m";
    table.columns = {{"run", false}};
    const std::size_t last = std::min(levels.size(), first + levels_per_table);
    for (std::size_t i = first; i < last; ++i) table.columns.push_back({time_head(levels[i]), true});
    for (const judge::JudgedRun& run : judgement.runs) {
        std::vector<Cell> row{Cell{short_name(run.key), {}, !run.counts, run.counts}};
        for (std::size_t i = first; i < last; ++i) row.push_back(time_cell(run, levels[i]));
        table.rows.push_back(std::move(row));
    }
    return table;
}

Table details_table(const judge::Judgement& judgement) {
    Table table;
    table.title = "How each run was read";
    table.columns = {{"run", false},          {"release from", false},  {"release, s", true},
                     {"fall delay, s", true}, {"charged for, s", true}, {"electrode, V", true},
                     {"zero, V", true},       {"charge", true},         {"left at the end", true},
                     {"noise, V", true},      {"record, s", true},      {"resolution, s", true}};
    for (const judge::JudgedRun& run : judgement.runs) {
        if (!run.figures) continue;
        const decay::Figures& f = *run.figures;
        const bool muted = !run.counts;
        table.rows.push_back({Cell{short_name(run.key), {}, muted, !muted},
                              Cell{std::string(words_for(f.release_source)), {}, muted, false},
                              Cell{uncertain_text(f.release_s, f.u_release_s), {}, muted, false},
                              Cell{optional_number(f.release_delay_s, 2), {}, muted, false},
                              Cell{optional_number(f.charging_s, 3), {}, muted, false},
                              Cell{optional_number(f.electrode_V, 4), {}, muted, false},
                              Cell{uncertain_text(f.zero_V, f.u_zero_V), {}, muted, false},
                              Cell{optional_percent(f.accepted_charge), {}, muted, false},
                              Cell{optional_percent(f.remaining_fraction), {}, muted, false},
                              Cell{significant_text(f.noise_V, 2), {}, muted, false},
                              Cell{significant_text(f.record_s, 3), {}, muted, false},
                              Cell{significant_text(f.resolution_s, 2), {}, muted, false}});
    }
    return table;
}

/// Why a level has no decay time, run by run; reasons that repeat are written once.
std::vector<std::string> reasons_without_time(const judge::Judgement& judgement) {
    std::vector<std::pair<std::string, std::string>> reasons;  // reason, runs
    for (const judge::JudgedRun& run : judgement.runs) {
        if (!run.figures) continue;
        for (const decay::LevelFigure& figure : run.figures->levels) {
            if (figure.reason.empty()) continue;
            const std::string text = fmt::format("t({}): {}", figure.level.label(), figure.reason);
            auto found = std::ranges::find(reasons, text, &std::pair<std::string, std::string>::first);
            if (found == reasons.end()) found = reasons.insert(reasons.end(), {text, ""});
            found->second += (found->second.empty() ? "" : ", ") + short_name(run.key);
        }
    }
    std::vector<std::string> lines;
    for (const auto& [reason, runs] : reasons) lines.push_back(fmt::format("{} ({})", reason, runs));
    return lines;
}

}  // namespace

void add_runs(Document& document, const ReportInput& input) {
    const judge::Judgement& judgement = input.record.judgement;
    auto& blocks = document.blocks;
    blocks.emplace_back(Heading{"Runs"});
    if (judgement.runs.empty()) {
        blocks.emplace_back(Paragraph{"The plan holds no runs.", Paragraph::Look::body, "7.8.2.1 m"});
        return;
    }
    const std::vector<plan::Level> levels = levels_of(judgement.runs);
    blocks.emplace_back(main_table(judgement, levels));
    if (levels.size() > levels_beside_figures)
        for (std::size_t first = 0; first < levels.size(); first += levels_per_table)
            blocks.emplace_back(times_table(judgement, levels, first));
    blocks.emplace_back(Paragraph{
        fmt::format(
            "V0: initial voltage ({}). Accepted: V0 over the electrode voltage. Prompt drop: fall within the "
            "electrode's own fall time, over V0. Residual: reading of the uncharged specimen. Numbers in "
            "brackets are "
            "standard uncertainties in the last digits. Letters of flags are explained under Flags.",
            words_for(input.record.method.decay.basis)),
        Paragraph::Look::note, "7.8.3.1 c"});
    if (const auto reasons = reasons_without_time(judgement); !reasons.empty()) {
        blocks.emplace_back(Paragraph{"Levels without a decay time:", Paragraph::Look::body, ""});
        blocks.emplace_back(Bullets{reasons, ""});
    }
    if (Table details = details_table(judgement); !details.rows.empty()) {
        blocks.emplace_back(std::move(details));
        blocks.emplace_back(Paragraph{
            "Release: on the time axis of the recording. Fall delay: mean delay of the electrode's own fall. "
            "Charge: accepted fraction less the induced fraction of the fixture. Noise: standard deviation "
            "of "
            "one sample. Decay times shorter than the resolution are given as bounds.",
            Paragraph::Look::note, ""});
    }
}

}  // namespace ebbtide::report
