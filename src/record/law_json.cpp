// What a fall says of its law as JSON: the one place for fit, measure and record.

#include <cmath>

#include "record/json.hpp"

namespace ebbtide::record {
namespace {

using nlohmann::json;

json json_of(const std::vector<decay::Extrapolated>& times) {
    json out = json::array();
    for (const decay::Extrapolated& time : times) out.push_back(record::json_of(time));
    return out;
}

json json_of(const decay::LawCandidate& candidate, double effective_samples) {
    json parameters = json::object(), errors = json::object(), standings = json::object();
    for (const fit::Parameter& p : candidate.parameters) {
        parameters[p.name] = finite_or_null(p.value);
        errors[p.name] = finite_or_null(p.standard_error);
        standings[p.name] = name_of(p.standing);
    }
    return {{"name", decay::name_of(candidate.kind)},
            {"outcome", name_of(candidate.outcome)},
            {"reason", candidate.reason},
            {"not_told_apart", candidate.merged},
            {"parameters", std::move(parameters)},
            {"standard_errors", std::move(errors)},
            {"standings", std::move(standings)},
            {"rss", finite_or_null(candidate.rss)},
            {"aicc", finite_or_null(candidate.aicc)},
            {"weight", finite_or_null(candidate.weight)},
            {"effective_samples", finite_or_null(effective_samples)},
            {"extrapolated", json_of(candidate.extrapolated)}};
}

json json_of(const std::optional<decay::PulseSides>& sides) {
    if (!sides) return {};
    return {{"charging_time_s", finite_or_null(sides->charging_time_s)},
            {"falling_time_s", finite_or_null(sides->falling_time_s)},
            {"difference", finite_or_null(sides->difference)},
            {"u_difference", finite_or_null(sides->u_difference)},
            {"left", finite_or_null(sides->left)},
            {"agree", sides->agree}};
}

}  // namespace

json text_or_null(const std::string& text) {
    return text.empty() ? json() : json(text);
}

json finite_or_null(const std::optional<double>& value) {
    return value && std::isfinite(*value) ? json(*value) : json();
}

std::string_view name_of(fit::Standing standing) {
    switch (standing) {
        case fit::Standing::free:
            return "free";
        case fit::Standing::held:
            return "held";
        case fit::Standing::at_bound:
            return "at_bound";
        case fit::Standing::did_not_move:
            return "did_not_move";
        case fit::Standing::not_determined:
            return "not_determined";
    }
    return {};
}

std::string_view name_of(fit::Outcome outcome) {
    switch (outcome) {
        case fit::Outcome::not_run:
            return "not_run";
        case fit::Outcome::converged:
            return "converged";
        case fit::Outcome::stalled:
            return "stalled";
        case fit::Outcome::singular:
            return "singular";
        case fit::Outcome::too_few_samples:
            return "too_few_samples";
        case fit::Outcome::bad_samples:
            return "bad_samples";
    }
    return {};
}

json json_of(const decay::Extrapolated& time) {
    return {{"level", time.level.value},
            {"level_kind", time.level.kind == plan::Level::Kind::fraction ? "fraction" : "absolute_V"},
            {"decay_s", finite_or_null(time.decay_s)},
            {"low_s", finite_or_null(time.low_s)},
            {"high_s", finite_or_null(time.high_s)}};
}

json json_of(const decay::LawFigures& law) {
    json models = json::array(), residuals = json::array();
    for (const decay::LawCandidate& candidate : law.candidates)
        models.push_back(json_of(candidate, law.effective_samples));
    for (const decay::ResidualPoint& point : law.residuals)
        residuals.push_back({{"time_s", finite_or_null(point.time_s)},
                             {"residual_V", finite_or_null(point.residual_V)},
                             {"u_V", finite_or_null(point.u_V)},
                             {"law_V", finite_or_null(point.law_V)}});
    return {{"missing", law.missing},
            {"from_s", finite_or_null(law.from_s)},
            {"to_s", finite_or_null(law.to_s)},
            {"samples", law.samples},
            {"effective_samples", finite_or_null(law.effective_samples)},
            {"lag_s", finite_or_null(law.lag_s)},
            {"hold_s", finite_or_null(law.hold_s)},
            {"chosen", law.chosen ? json(decay::name_of(law.candidates.at(*law.chosen).kind)) : json()},
            {"adequate", or_null(law.adequate)},
            {"doubt", law.doubt},
            {"models", std::move(models)},
            {"extrapolated", json_of(law.extrapolated)},
            {"residuals", std::move(residuals)},
            {"sides", json_of(law.sides)},
            {"sides_missing", text_or_null(law.sides_missing)}};
}

}  // namespace ebbtide::record
