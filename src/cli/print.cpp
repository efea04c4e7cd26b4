#include "cli/print.hpp"

#include <fmt/format.h>

#include <cstdio>

#include "basis/number_text.hpp"
#include "cli/commands.hpp"
#include "judge/advice.hpp"
#include "report/law_words.hpp"

namespace ebbtide::cli {
namespace {

/// What the laws say of a level that the record does not reach.
std::string beyond_text(const decay::LevelFigure& figure, const std::optional<decay::LawFigures>& law) {
    if (!law) return "";
    for (const decay::Extrapolated& time : law->extrapolated)
        if (time.level.same_as(figure.level))
            return fmt::format("; extrapolated ≈ {} s", report::extrapolated_text(time));
    return "";
}

std::string level_text(const decay::LevelFigure& figure, const std::optional<decay::LawFigures>& law) {
    using decay::LevelStatus;
    switch (figure.status) {
        case LevelStatus::measured:
            return uncertain_text(*figure.decay_s, figure.u_decay_s) + " s";
        case LevelStatus::not_reached:
        case LevelStatus::extrapolated:
            return fmt::format("not reached in {} s{}", significant_text(figure.at_least_s.value_or(0), 3),
                               beyond_text(figure, law));
        case LevelStatus::below_resolution:
            return fmt::format("below resolution, under {} s", significant_text(*figure.at_most_s, 2));
        case LevelStatus::too_noisy:
            return "too noisy";
        case LevelStatus::refused:
            return "refused: " + figure.reason;
    }
    return "";
}

/// What would settle the conditional result that is hardest to settle.
std::string help_text(const judge::RequirementOutcome& outcome, const plan::DecisionRule& rule) {
    const judge::Finding* finding = judge::hardest_conditional(outcome);
    if (!finding) return "";
    const auto sentences = judge::advice_in_words(*finding, outcome.requirement, rule);
    if (sentences.empty()) return "";
    std::string out = indented(wrapped("what would help " + finding->group + ":", screen - 4, 2), 4);
    for (const std::string& sentence : sentences) out += indented(wrapped(sentence, screen - 6, 2), 6);
    return out;
}

std::string percent_or_dash(const std::optional<double>& fraction) {
    return fraction ? fixed_text(100 * *fraction, 1) + " %" : "-";
}

std::string amendment_text(const plan::Amendment& amendment, const std::vector<std::string>& found) {
    std::string out =
        fmt::format("\namends revision {}, issued {}, which it replaces\n", amendment.replaces_revision,
                    amendment.replaces_issued ? iso_text(*amendment.replaces_issued) : "at a day not stated");
    out += indented(wrapped("reason: " + amendment.reason, screen - 2, 2), 2);
    for (const std::string& change : amendment.changes)
        out += indented(wrapped("stated: " + change, screen - 2, 2), 2);
    for (const std::string& difference : found)
        out += indented(wrapped("found: " + difference, screen - 2, 2), 2);
    return out;
}

std::string risk_text(const judge::PriorRisk& risk) {
    const auto share = [](double probability) {
        return probability < 0.001 ? "less than 0.1 %" : fixed_text(100 * probability, 1) + " %";
    };
    return fmt::format(
        "risk of the rule before the test, by the history given: {} of results pass though over the limit "
        "(consumer's), {} do not pass though within it (producer's)",
        share(risk.consumer), share(risk.producer));
}

}  // namespace

// Continuation bytes of UTF-8 take no place of their own.
std::size_t seen_columns(const std::string& text) {
    std::size_t count = 0;
    for (const char c : text) count += (static_cast<unsigned char>(c) & 0xC0u) != 0x80u;
    return count;
}

std::string flag_text(const plan::Flag& flag) {
    return wrapped(
        fmt::format("{} {}: {}", plan::name_of(flag.consequence), plan::facts(flag.code).name, flag.message),
        screen - 6, 2);
}

std::string indented(const std::string& text, std::size_t by) {
    std::string out = std::string(by, ' ');
    for (const char c : text) {
        out += c;
        if (c == '\n') out += std::string(by, ' ');
    }
    return out + "\n";
}

std::string padded(const std::string& text, std::size_t columns) {
    const std::size_t length = seen_columns(text);
    return length < columns ? text + std::string(columns - length, ' ') : text;
}

std::string wrapped(const std::string& text, std::size_t width, std::size_t indent) {
    std::string out, line;
    for (std::size_t at = 0; at < text.size();) {
        const std::size_t space = std::min(text.find(' ', at), text.size());
        const std::string word = text.substr(at, space - at);
        if (!line.empty() && seen_columns(line) + 1 + seen_columns(word) > width) {
            out += line + "\n";
            line = std::string(indent, ' ') + word;
        } else {
            line += (line.empty() ? "" : " ") + word;
        }
        at = space + 1;
    }
    return out + line;
}

void tell(const std::string& message) {
    std::fwrite(message.data(), 1, message.size(), stderr);
}

int complain(const Error& error) {
    tell("ebbtide: " + error.text() + "\n");
    switch (error.code) {
        case Fault::bad_input:
        case Fault::unreadable:
            return bad_input;
        case Fault::inconsistent:
            return differs;
        case Fault::internal:
            return internal;
    }
    return internal;
}

std::string shape_and_word(plan::Conformity conformity) {
    using plan::Conformity;
    const char* shape = conformity == Conformity::pass               ? "●"
                        : conformity == Conformity::conditional_pass ? "◐"
                        : conformity == Conformity::conditional_fail ? "◑"
                        : conformity == Conformity::fail             ? "■"
                                                                     : "○";
    return fmt::format("{} {}", shape, plan::name_of(conformity));
}

std::string text_of(const work::MeasuredFile& file) {
    const record::RecordingRecord& recording = file.recording;
    std::string out = fmt::format("{}\n", recording.file);
    out += indented(wrapped(recording.dialect, screen - 2, 2), 2);
    for (const plan::Flag& flag : file.flags) out += indented(flag_text(flag), 2);
    std::size_t number = 0;
    for (const work::MeasuredRun& run : file.runs) {
        out += fmt::format("  run {}  {}  {}\n", ++number, plan::sign_of(run.figures.polarity),
                           run.run_id.substr(0, 12));
        out += text_of(run);
    }
    return out;
}

std::string text_of(const work::MeasuredRun& run) {
    const decay::Figures& f = run.figures;
    std::string out =
        fmt::format("    released at {} s ({}), V0 {} V\n", uncertain_text(f.release_s, f.u_release_s),
                    decay::name_of(f.release_source),
                    f.initial_voltage_V ? uncertain_text(*f.initial_voltage_V, f.u_initial_voltage_V) : "-");
    out +=
        fmt::format("    accepted {}, prompt drop {}, remaining {}\n", percent_or_dash(f.accepted_fraction),
                    percent_or_dash(f.prompt_drop), percent_or_dash(f.remaining_fraction));
    for (const decay::LevelFigure& level : f.levels) {
        out += indented(
            wrapped(fmt::format("t({} {}", padded(level.level.label() + ")", 7), level_text(level, f.law)),
                    screen - 4, 10),
            4);
        if (level.monte_carlo) out += indented(wrapped(report::monte_carlo_text(level), screen - 14, 2), 14);
    }
    if (f.law) out += indented(wrapped("law        " + report::law_sentence(*f.law), screen - 4, 10), 4);
    if (f.law && !f.law->sides_missing.empty())
        out += indented(wrapped("charging   not compared: " + f.law->sides_missing, screen - 4, 10), 4);
    for (const plan::Flag& flag : run.flags) out += indented(flag_text(flag), 4);
    return out;
}

std::string text_of(const record::OrderRecord& record) {
    const judge::Judgement& judgement = record.judgement;
    std::string out = fmt::format("order {}, revision {}: {}\n", record.order.id, record.order.revision,
                                  record.order.title);
    out += fmt::format("  method         {}, edition {}\n", record.method.title, record.method.edition);
    out += fmt::format("  specification  {}, edition {}\n", record.specification.title,
                       record.specification.edition);
    out +=
        fmt::format("  decision rule  {}\n\n", plan::in_words(plan::rule_under(record.terms, record.order)));
    for (const judge::RequirementOutcome& outcome : judgement.requirements) {
        out += fmt::format("{}  {}\n", padded(shape_and_word(outcome.outcome), 18), outcome.requirement.id);
        out += indented(
            wrapped(fmt::format("{} ({})", plan::sentence(outcome.requirement), outcome.requirement.clause),
                    screen - 4, 0),
            4);
        for (const judge::Finding& finding : outcome.findings)
            if (outcome.requirement.statistic == plan::Statistic::mean ||
                finding.outcome != plan::Conformity::pass)
                out +=
                    indented(wrapped(fmt::format("{}: {}", finding.group, finding.reason), screen - 6, 2), 6);
        out += help_text(outcome, record.order.decision_rule);
        if (outcome.prior_risk) out += indented(wrapped(risk_text(*outcome.prior_risk), screen - 6, 2), 6);
    }
    out += fmt::format(
        "\n{}: {}\n",
        record.terms.any() ? "statement under other terms than agreed" : "statement of conformity",
        shape_and_word(judgement.statement));
    for (const std::string& reason : judgement.reasons) out += indented(wrapped(reason, screen - 2, 2), 2);
    for (const std::string& caution : judgement.cautions) out += indented(wrapped(caution, screen - 2, 2), 2);
    if (const auto& amendment = record.order.amendment) out += amendment_text(*amendment, record.amended);
    return out;
}

}  // namespace ebbtide::cli
