#include "work/law_agreement.hpp"

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>
#include <string>

namespace ebbtide::work {
namespace {

using nlohmann::json;

constexpr double share = 1e-3;         // of a standard error or an interval
constexpr double rss_share = 1e-6;     // of a sum of squares
constexpr double of_criterion = 1e-2;  // a criterion is some thousand samples times a logarithm of the sum

bool number_at(const json& object, const std::string& key) {
    return object.is_object() && object.contains(key) && object[key].is_number();
}
double value_of(const json& object, const std::string& key) {
    return object[key].get<double>();
}

/// Takes the number of `was` over where the two are within `allowed` of each other.
void settle(const json& was, json& is, const std::string& key, double allowed) {
    if (!number_at(was, key) || !number_at(is, key)) return;
    if (std::abs(value_of(was, key) - value_of(is, key)) <= allowed) is[key] = was[key];
}
void settle_share(const json& was, json& is, const std::string& key, double of_itself) {
    if (number_at(was, key)) settle(was, is, key, of_itself * std::abs(value_of(was, key)));
}

/// Takes over whatever stands there.
void take(const json& was, json& is, const char* key) {
    if (was.contains(key) && is.contains(key)) is[key] = was[key];
}

template <class Settle>
void settle_each(const json& was, json& is, const char* key, Settle settle_one) {
    if (!was.is_object() || !is.is_object() || !was.contains(key) || !is.contains(key)) return;
    const json& before = was[key];
    json& now = is[key];
    if (!before.is_array() || !now.is_array()) return;
    for (std::size_t i = 0; i < std::min(before.size(), now.size()); ++i)
        if (before[i].is_object() && now[i].is_object()) settle_one(before[i], now[i]);
}

void settle_time(const json& was, json& is) {
    double width = 0;
    if (number_at(was, "low_s") && number_at(was, "high_s"))
        width = value_of(was, "high_s") - value_of(was, "low_s");
    for (const char* key : {"decay_s", "low_s", "high_s"})
        if (number_at(was, key)) settle(was, is, key, share * std::max(width, std::abs(value_of(was, key))));
}

/// A model that is not told from others by its criterion, because a parameter of it is not determined.
bool is_undetermined(const json& model) {
    return model.contains("aicc") && model["aicc"].is_null();
}

void settle_model(const json& was, json& is) {
    for (const char* key : {"parameters", "standard_errors", "standings"})
        if (!was.contains(key) || !is.contains(key) || !was[key].is_object() || !is[key].is_object()) return;
    for (const auto& [name, value] : was["parameters"].items()) {
        if (!number_at(was["standard_errors"], name)) continue;
        settle(was["parameters"], is["parameters"], name, share * value_of(was["standard_errors"], name));
        settle_share(was["standard_errors"], is["standard_errors"], name, share);
    }
    settle_share(was, is, "rss", rss_share);
    settle(was, is, "aicc", of_criterion);
    settle(was, is, "weight", of_criterion);
    settle_share(was, is, "effective_samples", share);
    settle_each(was, is, "extrapolated", settle_time);
    // Where one parameter is lost, so are the errors of the others; how the fit came to its end, and which
    // one it was, is rounding's word. The sum of squares stays.
    if (!is_undetermined(was) || !is_undetermined(is) || is["rss"] != was["rss"]) return;
    for (const char* key :
         {"outcome", "reason", "not_told_apart", "standings", "parameters", "standard_errors"})
        take(was, is, key);
}

void settle_residual(const json& was, json& is) {
    if (!number_at(was, "u_V")) return;
    const double u_V = value_of(was, "u_V");
    for (const char* key : {"residual_V", "law_V"}) settle(was, is, key, share * u_V);
    settle_share(was, is, "u_V", share);
}

void settle_sides(const json& was, json& is) {
    if (!is.is_object()) return;
    settle_share(was, is, "left", share);
    settle_share(was, is, "falling_time_s", share);
    if (!number_at(was, "u_difference")) return;
    const double u = value_of(was, "u_difference");
    settle(was, is, "difference", share * u);
    settle_share(was, is, "u_difference", share);
    for (const char* key : {"charging_time_s", "falling_time_s"}) settle_share(was, is, key, share * u);
}

}  // namespace

json settled_law(const json& was, json is) {
    if (!was.is_object() || !is.is_object()) return is;
    settle_share(was, is, "effective_samples", share);
    settle_each(was, is, "models", settle_model);
    settle_each(was, is, "extrapolated", settle_time);
    settle_each(was, is, "residuals", settle_residual);
    if (was.contains("sides") && is.contains("sides")) settle_sides(was["sides"], is["sides"]);
    // Times stand in it.
    if (was.contains("sides_missing") && is.contains("sides_missing") && was["sides_missing"].is_string() &&
        is["sides_missing"].is_string())
        take(was, is, "sides_missing");
    if (was.contains("adequate") && is.contains("adequate") && was["adequate"] == is["adequate"])
        take(was, is, "doubt");
    return is;
}

}  // namespace ebbtide::work
