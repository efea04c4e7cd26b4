#include "record/json.hpp"
#include "work/compare.hpp"

namespace ebbtide::work {
namespace {

using nlohmann::json;
using record::finite_or_null;
using record::text_or_null;

json json_of_group(const ComparedGroup& group) {
    return {{"name", group.name},
            {"values", group.values},
            {"specimens", group.specimens},
            {"measured", group.measured},
            {"not_reached", group.not_reached},
            {"below_resolution", group.below_resolution},
            {"between_bounds", group.between_bounds},
            {"mean_s", finite_or_null(group.mean_s)},
            {"low_s", finite_or_null(group.interval.low)},
            {"high_s", finite_or_null(group.interval.high)},
            {"spread_factor", finite_or_null(group.spread_factor)},
            {"missing", group.missing}};
}

json json_of_pair(const ComparedPair& pair) {
    return {{"first", pair.first},
            {"second", pair.second},
            {"ratio", finite_or_null(std::optional(pair.ratio))},
            {"low", finite_or_null(pair.ratio_interval.low)},
            {"high", finite_or_null(pair.ratio_interval.high)},
            {"paired", pair.paired},
            {"p_alone", pair.p_alone},
            {"p", pair.p},
            {"alike_p", pair.alike_p}};
}

json json_of_trend(const std::optional<TimeTrend>& trend) {
    if (!trend) return nullptr;
    return {{"ln_per_year", trend->ln_per_year},
            {"low", finite_or_null(trend->interval.low)},
            {"high", finite_or_null(trend->interval.high)},
            {"degrees_of_freedom", trend->degrees_of_freedom},
            {"p", trend->p},
            {"days", trend->days},
            {"first_day", trend->first_day},
            {"last_day", trend->last_day}};
}

}  // namespace

json comparison_json(const Comparison& comparison, const std::vector<std::string>& sources,
                     const std::string& level) {
    json out = {{"schema", "ebbtide.compare/1"},
                {"sources", sources},
                {"level", text_or_null(level)},
                {"by", comparison.request.by},
                {"alike_within", comparison.request.alike_within},
                {"groups", json::array()},
                {"overall", nullptr},
                {"pairs", json::array()},
                {"trend", json_of_trend(comparison.trend)},
                {"left_out", comparison.left_out},
                {"reasons", comparison.reasons},
                {"cautions", comparison.cautions}};
    for (const ComparedGroup& one : comparison.groups) out["groups"].push_back(json_of_group(one));
    for (const ComparedPair& one : comparison.pairs) out["pairs"].push_back(json_of_pair(one));
    if (comparison.overall)
        out["overall"] = {{"f_ratio", comparison.overall->f_ratio},
                          {"numerator_df", comparison.overall->numerator_df},
                          {"denominator_df", comparison.overall->denominator_df},
                          {"p", comparison.overall->p}};
    return out;
}

}  // namespace ebbtide::work
