#include "report/law_words.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "basis/number_text.hpp"
#include "judge/uncertainty_of.hpp"
#include "plan/flag.hpp"

namespace ebbtide::report {
namespace {

/// To the places that two digits of its uncertainty reach.
std::string to_u(double value, double u) {
    const int places = u > 0 && std::isfinite(u) ? 1 - static_cast<int>(std::floor(std::log10(u))) : 3;
    return fixed_text(value, std::clamp(places, 0, 12));
}

/// "time_constant_2_s" is "T2".
std::string symbol_of(const std::string& name) {
    if (!name.starts_with("time_constant")) return name.starts_with("offset") ? "ends at" : name;
    const std::size_t digit = name.find_first_of("0123456789");
    return digit == std::string::npos ? "T" : fmt::format("T{}", name[digit]);
}

std::string value_text(const fit::Parameter& p) {
    if (!std::isfinite(p.value)) return "not determined";
    switch (p.standing) {
        case fit::Standing::free:
            return uncertain_text(p.value, p.standard_error);
        case fit::Standing::held:
            return significant_text(p.value, 4);
        case fit::Standing::at_bound:
            return "at the end of its range";
        case fit::Standing::did_not_move:
        case fit::Standing::not_determined:
            return "not determined";
    }
    return "";
}

bool has_number(const fit::Parameter& p) {
    return p.standing == fit::Standing::free || p.standing == fit::Standing::held;
}

}  // namespace

std::string words_for(decay::LawKind kind) {
    return plan::in_words(decay::name_of(kind));
}

const decay::LawCandidate* shown_candidate(const decay::LawFigures& law) {
    if (law.chosen) return &law.candidates.at(*law.chosen);
    const decay::LawCandidate* best = nullptr;
    for (const decay::LawCandidate& one : law.candidates)
        if (one.outcome == fit::Outcome::converged && one.rss && (!best || *one.rss < *best->rss))
            best = &one;
    return best;
}

std::string shape_text(const decay::LawCandidate& candidate) {
    if (std::ranges::none_of(candidate.parameters, [](const fit::Parameter& p) {
            return !p.name.starts_with("amplitude") && has_number(p);
        }))
        return "nothing determined";
    double total_V = 0;
    std::vector<double> amplitudes_V;
    for (const fit::Parameter& p : candidate.parameters)
        if (p.name.starts_with("amplitude")) {
            amplitudes_V.push_back(p.value);
            total_V += p.value;
        }
    const bool shares = amplitudes_V.size() > 1 && total_V != 0 &&
                        std::ranges::all_of(amplitudes_V, [&](double a) { return a / total_V >= 0; });
    std::string text;
    std::size_t part = 0;
    for (const fit::Parameter& p : candidate.parameters) {
        if (p.name.starts_with("amplitude")) continue;
        text += fmt::format("{}{} {}", text.empty() ? "" : ", ", symbol_of(p.name), value_text(p));
        if (p.name.starts_with("offset") && has_number(p)) text += " V";
        if (!p.name.starts_with("time_constant")) continue;
        if (has_number(p)) text += " s";
        if (shares && part < amplitudes_V.size())
            text += fmt::format(" ({} %)", fixed_text(100 * amplitudes_V[part++] / total_V, 0));
    }
    return text;
}

std::string law_sentence(const decay::LawFigures& law) {
    if (!law.missing.empty()) return "not fitted: " + law.missing;
    const decay::LawCandidate* shown = shown_candidate(law);
    if (!shown) {
        const std::string reason = law.candidates.empty() ? "" : law.candidates.front().reason;
        return "not fitted: " + (reason.empty() ? std::string("no candidate converged") : reason);
    }
    const std::string named = fmt::format("{}, {}", words_for(shown->kind), shape_text(*shown));
    if (!law.chosen)
        return "none chosen: each has parameters that the fall does not determine; the closest is " + named;
    if (law.adequate && !*law.adequate) return "none of these describes the fall; the closest is " + named;
    return law.adequate ? named : named + "; whether it describes the fall was not judged";
}

std::string next_best_text(const decay::LawFigures& law) {
    if (!law.chosen) return "";
    const decay::LawCandidate* next = nullptr;
    for (const decay::LawCandidate& one : law.candidates)
        if (one.aicc && &one != &law.candidates[*law.chosen] && (!next || *one.aicc < *next->aicc))
            next = &one;
    if (!next) return "";
    return fmt::format("{}, {} above", words_for(next->kind),
                       fixed_text(*next->aicc - *law.candidates[*law.chosen].aicc, 1));
}

std::string extrapolated_text(const decay::Extrapolated& time) {
    const double middle_s = time.decay_s.value_or(time.low_s.value_or(0)), low_s = time.low_s.value_or(0);
    const double u_s = time.high_s ? (*time.high_s - low_s) / 4 : (middle_s - low_s) / 2;
    const auto text = [&](double t_s) { return to_u(t_s, u_s > 0 ? u_s : 0.1 * middle_s); };
    if (!time.decay_s) return time.low_s ? fmt::format("never (not before {})", text(low_s)) : "never";
    return fmt::format("{} ({} to {})", text(middle_s), time.low_s ? text(low_s) : "the end of the record",
                       time.high_s ? text(*time.high_s) : "never");
}

std::string monte_carlo_text(const decay::LevelFigure& figure) {
    const decay::MonteCarloTime& drawn = *figure.monte_carlo;
    const double half_s = judge::sum_of(figure.budget).expanded_u_s;
    if (!std::isfinite(drawn.low_s) || !std::isfinite(drawn.high_s) || !std::isfinite(half_s))
        return "Monte Carlo: no finite interval";
    std::string text =
        fmt::format("Monte Carlo {} to {} s, u {} s; slopes {} to {} s, {}", to_u(drawn.low_s, drawn.u_s),
                    to_u(drawn.high_s, drawn.u_s), significant_text(drawn.u_s, 2),
                    to_u(*figure.decay_s - half_s, drawn.u_s), to_u(*figure.decay_s + half_s, drawn.u_s),
                    drawn.agrees ? "agree" : "differ");
    if (drawn.beyond > 0.001)
        text += fmt::format("; {} % of the draws lie beyond the known part of the fall",
                            significant_text(100 * drawn.beyond, 2));
    if (!drawn.stable) text += fmt::format("; not yet stable after {} draws", drawn.trials);
    return text;
}

}  // namespace ebbtide::report
