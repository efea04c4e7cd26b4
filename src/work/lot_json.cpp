#include <cmath>

#include "record/json.hpp"
#include "work/lot.hpp"

namespace ebbtide::work {
namespace {

using nlohmann::json;
using record::finite_or_null;

json json_of(const stats::ConfidenceInterval& interval) {
    return {{"low", finite_or_null(interval.low)}, {"high", finite_or_null(interval.high)}};
}

json json_of(const std::optional<stats::ShareBeyond>& share) {
    if (!share) return nullptr;
    return {{"estimate", share->estimate},
            {"low", finite_or_null(share->interval.low)},
            {"high", finite_or_null(share->interval.high)}};
}

json steps_of(const Lot& lot) {
    json out = json::array();
    if (lot.product_limit) {
        for (const stats::SurvivalStep& step : *lot.product_limit) {
            const stats::ConfidenceInterval bounds = stats::log_log_bounds(step, 1.959963984540054);
            out.push_back({{"decay_s", step.time},
                           {"at_risk", step.at_risk},
                           {"survival", step.survival},
                           {"standard_error", record::or_null(step.standard_error)},
                           {"low", record::or_null(bounds.low)},
                           {"high", record::or_null(bounds.high)}});
        }
    } else {
        for (const stats::Portion& portion : lot.turnbull->portions)
            if (portion.to && portion.share > 0) {
                const auto bounds = stats::counted_bounds(lot.sample, *portion.to, 0.95);
                out.push_back({{"decay_s", *portion.to},
                               {"at_risk", nullptr},
                               {"survival", portion.survival},
                               {"standard_error", nullptr},
                               {"low", *bounds.low},
                               {"high", *bounds.high}});
            }
    }
    return out;
}

/// A law of which nothing is known yet but whether it was fitted; the names of its two parameters.
json unfitted(const LotLaw& law, const char* first, const char* second) {
    return {{"outcome", stats::name_of(law.fit.outcome)},
            {"reason", stats::in_words(law.fit.outcome)},
            {first, nullptr},
            {second, nullptr},
            {"standard_errors", nullptr},
            {"intervals", nullptr},
            {"log_likelihood", nullptr},
            {"aic", nullptr},
            {"beyond_limit", json_of(law.beyond)}};
}

json lognormal_of(const LotLaw& law) {
    const stats::CensoredFit& fit = law.fit;
    json out = unfitted(law, "mu", "sigma");
    if (!fit.fitted()) return out;
    const double of_mu = std::sqrt(fit.variance_location), of_log = std::sqrt(fit.variance_log_scale);
    out["mu"] = fit.location;
    out["sigma"] = fit.scale;
    out["standard_errors"] = {{"mu", of_mu}, {"sigma", fit.scale * of_log}, {"ln_sigma", of_log}};
    out["intervals"] = {{"mu", json_of(law.location)}, {"sigma", json_of(law.scale)}};
    out["log_likelihood"] = fit.log_likelihood;
    out["aic"] = 4 - 2 * fit.log_likelihood;
    return out;
}

json weibull_of(const LotLaw& law) {
    const stats::CensoredFit& fit = law.fit;
    json out = unfitted(law, "scale_s", "shape");
    if (!fit.fitted()) return out;
    const double scale_s = std::exp(fit.location), shape = 1 / fit.scale;
    const double of_log_scale = std::sqrt(fit.variance_location),
                 of_log_shape = std::sqrt(fit.variance_log_scale);
    const auto through = [](const std::optional<double>& end, double (*map)(double)) {
        return end ? finite_or_null(map(*end)) : json();
    };
    const auto exponential = [](double x) { return std::exp(x); };
    const auto inverse = [](double x) { return 1 / x; };
    out["scale_s"] = scale_s;
    out["shape"] = shape;
    out["standard_errors"] = {{"scale_s", scale_s * of_log_scale},
                              {"shape", shape * of_log_shape},
                              {"ln_scale", of_log_scale},
                              {"ln_shape", of_log_shape}};
    out["intervals"] = {
        {"scale_s",
         {{"low", through(law.location.low, exponential)},
          {"high", through(law.location.high, exponential)}}},
        {"shape", {{"low", through(law.scale.high, inverse)}, {"high", through(law.scale.low, inverse)}}}};
    out["log_likelihood"] = fit.log_likelihood;
    out["aic"] = 4 - 2 * fit.log_likelihood;
    return out;
}

json json_of(const LotBound& bound) {
    return {{"way", name_of(bound.way)},
            {"two_sided", bound.two_sided},
            {"share", bound.claim.share},
            {"confidence", bound.claim.confidence},
            {"factor", record::or_null(bound.factor)},
            {"lower_s", finite_or_null(bound.lower_s)},
            {"upper_s", finite_or_null(bound.upper_s)},
            {"missing", bound.missing}};
}

json json_of(const LotDifference& one) {
    return {{"kind", one.kind},
            {"first", one.first},
            {"second", one.second},
            {"ratio", one.ratio},
            {"low", finite_or_null(one.ratio_interval.low)},
            {"high", finite_or_null(one.ratio_interval.high)},
            {"p", one.p},
            {"alike_p", one.alike_p}};
}

json json_of(const std::optional<stats::SpecimenVariation>& one) {
    if (!one) return nullptr;
    return {{"specimens", one->specimens},
            {"values", one->values},
            {"sigma_between", std::sqrt(one->variance_between)},
            {"sigma_within", std::sqrt(one->variance_within)},
            {"f_ratio", one->f_ratio},
            {"p", one->p},
            {"mean_ln_decay", one->mean},
            {"standard_error", std::sqrt(one->variance_of_mean)},
            {"effective_values", one->effective_values}};
}

json json_of(const std::optional<stats::ReplicateTrend>& one) {
    if (!one) return nullptr;
    return {{"slope_ln_decay", one->slope},
            {"standard_error", one->standard_error},
            {"degrees_of_freedom", one->degrees_of_freedom},
            {"p", one->p}};
}

json risk_of(const Lot& lot) {
    if (!lot.conforming && !lot.global_risk) return nullptr;
    json out = {{"conforming", record::or_null(lot.conforming)},
                {"wrong_acceptance", nullptr},
                {"wrong_rejection", nullptr},
                {"history", nullptr},
                {"global", nullptr}};
    if (lot.conforming && lot.showing == stats::Showing::shown) out["wrong_acceptance"] = 1 - *lot.conforming;
    if (lot.conforming && lot.showing == stats::Showing::refuted) out["wrong_rejection"] = *lot.conforming;
    if (const auto& prior = lot.request.history)
        out["history"] = {{"source", prior->source},
                          {"mean_ln_decay", prior->history.mean},
                          {"sigma_between", prior->history.between},
                          {"sigma_within", prior->history.within},
                          {"degrees_of_freedom", record::or_null(prior->history.degrees_of_freedom)}};
    if (const auto& risk = lot.global_risk)
        out["global"] = {{"conforming", risk->conforming}, {"shown", risk->shown},
                         {"refuted", risk->refuted},       {"consumer", risk->consumer},
                         {"producer", risk->producer},     {"open_conforming", risk->open_conforming}};
    return out;
}

}  // namespace

std::string_view name_of(LotBound::Way way) {
    switch (way) {
        case LotBound::Way::lognormal:
            return "lognormal";
        case LotBound::Way::likelihood:
            return "likelihood";
        case LotBound::Way::order:
            return "order";
    }
    return "lognormal";
}

std::string_view name_of(stats::Showing showing) {
    switch (showing) {
        case stats::Showing::shown:
            return "shown";
        case stats::Showing::open:
            return "open";
        case stats::Showing::refuted:
            return "refuted";
    }
    return "open";
}

json json_of(const Lot& lot) {
    json out = {{"specimens", lot.specimens},
                {"values", lot.values},
                {"measured", lot.measured},
                {"not_reached", lot.not_reached},
                {"below_resolution", lot.below_resolution},
                {"between_bounds", lot.between_bounds},
                {"left_out", lot.left_out},
                {"limit_s", record::or_null(lot.request.limit_s)},
                {"over_limit", record::or_null(lot.over_limit)},
                {"kaplan_meier", steps_of(lot)},
                {"turnbull", nullptr},
                {"lognormal", lognormal_of(lot.lognormal)},
                {"weibull", weibull_of(lot.weibull)},
                {"quantiles", json::array()},
                {"tolerance", json::array()},
                {"normality", nullptr},
                {"furthest", nullptr},
                {"variation", json_of(lot.variation)},
                {"trend", json_of(lot.trend)},
                {"differences", json::array()},
                {"claim", {{"share", lot.request.claim.share}, {"confidence", lot.request.claim.confidence}}},
                {"showing", lot.showing ? json(name_of(*lot.showing)) : json()},
                {"outlook", nullptr},
                {"specimens_needed", record::or_null(lot.needed)},
                {"risk", risk_of(lot)},
                {"in_plain_words", lot.in_plain_words},
                {"reasons", lot.reasons},
                {"cautions", lot.cautions}};
    if (lot.turnbull) {
        json portions = json::array();
        for (const stats::Portion& one : lot.turnbull->portions)
            portions.push_back({{"from_s", one.from},
                                {"to_s", record::or_null(one.to)},
                                {"share", one.share},
                                {"survival", one.survival}});
        out["turnbull"] = {{"portions", portions},
                           {"log_likelihood", lot.turnbull->log_likelihood},
                           {"short_of_largest", lot.turnbull->short_of_largest}};
    }
    for (const LotQuantile& one : lot.quantiles)
        out["quantiles"].push_back({{"share", one.share},
                                    {"decay_s", one.decay_s},
                                    {"low_s", finite_or_null(one.interval.low)},
                                    {"high_s", finite_or_null(one.interval.high)}});
    for (const LotBound& one : lot.tolerance) out["tolerance"].push_back(json_of(one));
    if (lot.normality) out["normality"] = {{"statistic", lot.normality->statistic}, {"p", lot.normality->p}};
    if (lot.furthest)
        out["furthest"] = {{"specimen", lot.furthest->place + 1},
                           {"statistic", lot.furthest->statistic},
                           {"p", lot.furthest->p}};
    for (const LotDifference& one : lot.differences) out["differences"].push_back(json_of(one));
    if (lot.outlook)
        out["outlook"] = {{"more", 3},
                          {"shown", lot.outlook->shown},
                          {"open", lot.outlook->open},
                          {"refuted", lot.outlook->refuted}};
    return out;
}

}  // namespace ebbtide::work
