// Figures, flags and channels as JSON.

#include <cmath>
#include <stdexcept>

#include "record/json.hpp"

namespace ebbtide::record {
namespace {

using nlohmann::json;

void require_finite(const json& value, const std::string& place) {
    if (value.is_number_float() && !std::isfinite(value.get<double>()))
        throw std::logic_error("a number that is not finite reached a record: " + place);
    if (value.is_structured())
        for (const auto& [key, part] : value.items()) require_finite(part, place + "/" + key);
}

json json_of(const std::optional<decay::MonteCarloTime>& drawn) {
    if (!drawn) return {};
    return {{"mean_s", finite_or_null(drawn->mean_s)},
            {"u_s", finite_or_null(drawn->u_s)},
            {"low_s", finite_or_null(drawn->low_s)},
            {"high_s", finite_or_null(drawn->high_s)},
            {"trials", drawn->trials},
            {"stable", drawn->stable},
            {"agrees", drawn->agrees},
            {"beyond", finite_or_null(drawn->beyond)}};
}

json json_of(const decay::LevelFigure& figure) {
    json budget = json::array();
    for (const decay::Contribution& part : figure.budget) budget.push_back(record::json_of(part));
    return {{"level", figure.level.value},
            {"level_kind", figure.level.kind == plan::Level::Kind::fraction ? "fraction" : "absolute_V"},
            {"level_V", figure.level_V},
            {"status", decay::name_of(figure.status)},
            {"reason", figure.reason},
            {"decay_s", or_null(figure.decay_s)},
            {"u_decay_s", or_null(figure.u_decay_s)},
            {"degrees_of_freedom", or_null(figure.degrees_of_freedom)},
            {"last_crossing_s", or_null(figure.last_crossing_s)},
            {"at_least_s", or_null(figure.at_least_s)},
            {"at_most_s", or_null(figure.at_most_s)},
            {"budget", std::move(budget)},
            {"monte_carlo", json_of(figure.monte_carlo)},
            {"extrapolated", figure.beyond ? record::json_of(*figure.beyond) : json()}};
}

}  // namespace

json json_of(const decay::Contribution& part) {
    return {{"source", part.source},
            {"u", part.u},
            {"unit", part.unit},
            {"sensitivity", part.sensitivity},
            {"degrees_of_freedom", or_null(part.degrees_of_freedom)},
            {"scope", decay::name_of(part.scope)},
            {"correlated_with", part.correlated_with},
            {"correlation", part.correlation},
            {"pooled", part.pooled}};
}

std::string canonical_text(const json& document) {
    require_finite(document, "");
    // Names and messages come from files: bytes that are no UTF-8 are replaced rather than lost with an
    // exception.
    return document.dump(2, ' ', false, json::error_handler_t::replace) + "\n";
}

json json_of(const plan::Flag& flag) {
    return {{"code", plan::facts(flag.code).name},
            {"severity", plan::name_of(flag.consequence)},
            {"message", flag.message}};
}

json json_of(const decay::Figures& figures) {
    json levels = json::array(), flags = json::array();
    for (const decay::LevelFigure& level : figures.levels) levels.push_back(json_of(level));
    for (const plan::Flag& flag : figures.flags) flags.push_back(json_of(flag));
    return {{"polarity", plan::sign_of(figures.polarity)},
            {"release_s", figures.release_s},
            {"u_release_s", figures.u_release_s},
            {"release_source", decay::name_of(figures.release_source)},
            {"release_delay_s", or_null(figures.release_delay_s)},
            {"charging_s", or_null(figures.charging_s)},
            {"zero_V", figures.zero_V},
            {"u_zero_V", figures.u_zero_V},
            {"initial_voltage_V", or_null(figures.initial_voltage_V)},
            {"u_initial_voltage_V", figures.u_initial_voltage_V},
            {"residual_V", or_null(figures.residual_V)},
            {"held_V", or_null(figures.held_V)},
            {"electrode_V", or_null(figures.electrode_V)},
            {"accepted_fraction", or_null(figures.accepted_fraction)},
            {"accepted_charge", or_null(figures.accepted_charge)},
            {"prompt_drop", or_null(figures.prompt_drop)},
            {"remaining_fraction", or_null(figures.remaining_fraction)},
            {"record_s", figures.record_s},
            {"noise_V", figures.noise_V},
            {"noise_correlation_s", figures.noise_correlation_s},
            {"resolution_s", figures.resolution_s},
            {"levels", std::move(levels)},
            {"law", figures.law ? json_of(*figures.law) : json()},
            {"flags", std::move(flags)}};
}

json json_of(const trace::ChannelDescription& channel) {
    return {{"heading", channel.heading},
            {"unit", channel.unit},
            {"factor_to_SI", channel.factor_to_SI},
            {"quantity", trace::name_of(channel.quantity)}};
}

json json_of(const trace::Notice& notice) {
    return {{"kind", trace::name_of(notice.kind)},
            {"line", notice.line},
            {"column", notice.column},
            {"count", notice.count},
            {"text", notice.text}};
}

}  // namespace ebbtide::record
