// Fitted laws for the terminal.

#include <fmt/format.h>

#include <cmath>

#include "basis/number_text.hpp"
#include "cli/print.hpp"
#include "cli/residual_strip.hpp"
#include "record/json.hpp"
#include "report/law_words.hpp"

namespace ebbtide::cli {
namespace {

std::string stretch_text(const decay::LawFigures& law) {
    std::string text =
        fmt::format("fitted from {} to {} s", significant_text(law.from_s, 3), significant_text(law.to_s, 3));
    if (law.samples > 0) text += fmt::format(", {} samples", law.samples);
    if (law.effective_samples > 0 && law.effective_samples < 0.95 * static_cast<double>(law.samples))
        text +=
            fmt::format(" that carry as much as {} independent ones", fixed_text(law.effective_samples, 0));
    if (law.lag_s > 0) text += fmt::format(", through a lag of {} s", shortest_text(law.lag_s));
    if (law.hold_s) text += fmt::format(", after a hold of only {} s", significant_text(*law.hold_s, 3));
    return text;
}

std::string parameters_text(const decay::LawCandidate& candidate) {
    std::string out;
    for (const fit::Parameter& p : candidate.parameters)
        out += fmt::format(
            "  {}{}{}\n", padded(p.name, 20), uncertain_text(p.value, p.standard_error),
            p.standing == fit::Standing::free ? "" : "   " + plan::in_words(record::name_of(p.standing)));
    return out;
}

/// One line a candidate: how much higher its criterion is, its weight, its time constants or why it has none.
std::string candidates_text(const decay::LawFigures& law) {
    if (law.candidates.size() < 2) return "";
    std::optional<double> lowest;
    for (const decay::LawCandidate& one : law.candidates)
        if (one.aicc && (!lowest || *one.aicc < *lowest)) lowest = one.aicc;
    std::string out = padded("candidate", 20) + "   AICc above  weight\n";
    for (const decay::LawCandidate& one : law.candidates) {
        std::string said = one.parameters.empty() ? one.reason : report::shape_text(one);
        if (!one.merged.empty()) said += "; cannot be told apart: " + one.merged;
        const std::string columns = fmt::format("{}{:>13}{:>6} %   ", padded(report::words_for(one.kind), 20),
                                                one.aicc && lowest ? fixed_text(*one.aicc - *lowest, 1) : "-",
                                                fixed_text(100 * one.weight, 0));
        out += wrapped(columns + said, screen - 4, 24) + "\n";
    }
    return out;
}

std::string extrapolated_lines(const decay::LawFigures& law) {
    std::string out;
    for (const decay::Extrapolated& time : law.extrapolated)
        out += fmt::format("t({}) extrapolated ≈ {} s, not measured\n", time.level.label(),
                           report::extrapolated_text(time));
    return out;
}

std::string sides_line(const decay::LawFigures& law) {
    if (!law.sides)
        return law.sides_missing.empty()
                   ? ""
                   : wrapped("charging side not compared with the fall: " + law.sides_missing, screen - 4,
                             2) +
                         "\n";
    if (!law.sides->charging_time_s) return "the charging side has another shape than the fall\n";
    return fmt::format("charging side {} s, fall {} s: {}\n",
                       significant_text(*law.sides->charging_time_s, 3),
                       significant_text(law.sides->falling_time_s, 3),
                       law.sides->agree ? "they mirror each other" : "they differ");
}

std::string text_of(const decay::LawFigures& law) {
    if (!law.missing.empty()) return report::law_sentence(law) + "\n";
    std::string out = wrapped(stretch_text(law), screen - 4, 2) + "\n";
    out += wrapped("law: " + report::law_sentence(law), screen - 4, 2) + "\n";
    if (const decay::LawCandidate* shown = report::shown_candidate(law)) out += parameters_text(*shown);
    if (law.adequate && !*law.adequate) out += wrapped(law.doubt, screen - 4, 2) + "\n";
    out += extrapolated_lines(law) + sides_line(law) + candidates_text(law);
    if (const std::string strip = residual_strip(law); !strip.empty())
        out += "what the law leaves, in units of its noise; dots: 95 % lie between\n" + strip;
    return out;
}

}  // namespace

std::string text_of(const std::string& name, const work::FittedFile& file) {
    std::string out = name + "\n";
    for (const plan::Flag& flag : file.flags) out += indented(flag_text(flag), 2);
    std::size_t number = 0;
    for (const work::FittedRun& run : file.runs) {
        if (!run.run_id.empty())
            out += fmt::format("  run {}  {}  {}\n", ++number, plan::sign_of(run.polarity),
                               run.run_id.substr(0, 12));
        std::string text = text_of(run.law);
        text.pop_back();
        out += indented(text, 4);
        for (const plan::Flag& flag : run.flags) out += indented(flag_text(flag), 4);
    }
    return out;
}

}  // namespace ebbtide::cli
