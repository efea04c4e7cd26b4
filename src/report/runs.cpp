#include <fmt/format.h>

#include <algorithm>

#include "basis/number_text.hpp"
#include "report/chapters.hpp"
#include "report/words.hpp"

namespace ebbtide::report {
namespace {

constexpr std::size_t levels_beside_figures = 3, levels_per_table = 6;

std::string_view short_word(decay::ReleaseSource source) {
    switch (source) {
        case decay::ReleaseSource::electrode_fall:
            return "electrode";
        case decay::ReleaseSource::marker:
            return "marker";
        case decay::ReleaseSource::change_point:
            return "change point";
        case decay::ReleaseSource::record_start:
            return "record start";
        case decay::ReleaseSource::field_step:
            return "field step";
    }
    return "";
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
    if (run.fails && run.counts) text += text.empty() ? "fails" : "; fails";
    const std::string aside = run.without_specimen ? "reference, not judged" : "does not count";
    if (!run.counts) text += text.empty() ? aside : "; " + aside;
    return text;
}

std::string time_head(const plan::Level& level) {
    return fmt::format("t({}), s", level.label());
}

Table main_table(const judge::Judgement& judgement, const std::vector<plan::Level>& levels) {
    const FlagLetters letters = flag_letters(judgement);
    Table table;
    table.clause = "7.8.2.1 m";
    table.columns = {{"run", one_line},
                     {"V0, V", number},
                     {"accepted", number},
                     {"prompt drop", number},
                     {"residual, V", number}};
    const std::size_t shown = levels.size() <= levels_beside_figures ? levels.size() : 0;
    for (std::size_t i = 0; i < shown; ++i) table.columns.push_back({time_head(levels[i]), number});
    table.columns.push_back({"flags"});
    for (const judge::JudgedRun& run : judgement.runs) {
        const bool muted = !run.counts;
        std::vector<Cell> row{Cell{run.key.label(), {}, muted, !muted}};
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
    table.columns = {{"run", one_line}};
    const std::size_t last = std::min(levels.size(), first + levels_per_table);
    for (std::size_t i = first; i < last; ++i) table.columns.push_back({time_head(levels[i]), number});
    for (const judge::JudgedRun& run : judgement.runs) {
        std::vector<Cell> row{Cell{run.key.label(), {}, !run.counts, run.counts}};
        for (std::size_t i = first; i < last; ++i) row.push_back(time_cell(run, levels[i]));
        table.rows.push_back(std::move(row));
    }
    return table;
}

Table details_table(const judge::Judgement& judgement) {
    Table table;
    table.title = "How each run was read";
    table.columns = {{"run", one_line},      {"release from", one_line}, {"release, s", number},
                     {"fall delay", number}, {"charged for, s", number}, {"electrode, V", number},
                     {"zero, V", number},    {"charge", number},         {"left at the end", number},
                     {"noise, V", number},   {"record, s", number},      {"resolution, s", number}};
    for (const judge::JudgedRun& run : judgement.runs) {
        if (!run.figures) continue;
        const decay::Figures& f = *run.figures;
        const bool muted = !run.counts;
        table.rows.push_back(
            {Cell{run.key.label(), {}, muted, !muted},
             Cell{std::string(short_word(f.release_source)), {}, muted, false},
             Cell{uncertain_text(f.release_s, f.u_release_s), {}, muted, false},
             Cell{f.release_delay_s ? prefixed_text(*f.release_delay_s, 2, "s") : "–", {}, muted, false},
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

/// Why levels have no decay time, one row a run and reason.
Table reasons_without_time(const judge::Judgement& judgement) {
    Table table;
    table.title = "Levels without a decay time";
    table.columns = {{"run", one_line}, {"levels", one_line}, {"why"}};
    for (const judge::JudgedRun& run : judgement.runs) {
        if (!run.figures) continue;
        std::vector<std::pair<std::string, std::string>> reasons;  // why, levels
        for (const decay::LevelFigure& figure : run.figures->levels) {
            if (figure.reason.empty()) continue;
            auto found =
                std::ranges::find(reasons, figure.reason, &std::pair<std::string, std::string>::first);
            if (found == reasons.end()) found = reasons.insert(reasons.end(), {figure.reason, ""});
            found->second += (found->second.empty() ? "" : ", ") + figure.level.label();
        }
        for (const auto& [why, levels] : reasons)
            table.rows.push_back({Cell{run.key.label(), {}, !run.counts, run.counts},
                                  Cell{levels, {}, !run.counts, false}, Cell{why, {}, !run.counts, false}});
    }
    return table;
}

}  // namespace

std::string lift_constant_columns(Table& table) {
    if (table.rows.size() < 3) return "";
    std::string same;
    for (std::size_t i = table.columns.size(); i-- > 1;) {
        const std::string& text = table.rows.front()[i].text;
        if (std::ranges::any_of(table.rows, [&](const auto& row) { return row[i].text != text; })) continue;
        const std::string& head = table.columns[i].head;
        const std::size_t comma = head.find(", ");  // "record, s" becomes "record 2.00 s"
        const std::string unit =
            comma == std::string::npos || text == "–" ? "" : "\u00a0" + head.substr(comma + 2);
        same = fmt::format("{} {}{}{}{}", head.substr(0, comma), text, unit, same.empty() ? "" : "; ", same);
        table.columns.erase(table.columns.begin() + static_cast<std::ptrdiff_t>(i));
        for (auto& row : table.rows) row.erase(row.begin() + static_cast<std::ptrdiff_t>(i));
    }
    return same.empty() ? "" : "The same for all runs: " + same + ". ";
}

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
    if (Table reasons = reasons_without_time(judgement); !reasons.rows.empty())
        blocks.emplace_back(std::move(reasons));
    if (Table details = details_table(judgement); !details.rows.empty()) {
        const std::string same = lift_constant_columns(details);
        if (details.columns.size() > 1) blocks.emplace_back(std::move(details));
        blocks.emplace_back(Paragraph{
            same +
                "Release from: the fall of the electrode voltage, a release marker, the change point of the "
                "specimen "
                "voltage, the start of the record, or the step of a field electrode. Release: on the time "
                "axis of the recording. Fall "
                "delay: "
                "mean delay of the electrode's own fall. "
                "Charge: accepted fraction less the induced fraction of the fixture. Noise: standard "
                "deviation "
                "of "
                "one sample. Decay times shorter than the resolution are given as bounds.",
            Paragraph::Look::note, ""});
    }
}

}  // namespace ebbtide::report
