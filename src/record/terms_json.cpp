// Terms other than an order's own, as JSON and back: a report made under them is worked out again under them.

#include "record/json.hpp"

namespace ebbtide::record {

using nlohmann::json;

json json_of(const plan::Terms& terms) {
    if (!terms.any()) return {};
    json levels = json::array();
    for (const plan::Level& level : terms.levels) levels.push_back(level.text);
    return {{"specification", terms.specification.empty() ? json() : json(terms.specification)},
            {"levels", std::move(levels)},
            {"decision_rule", terms.decision_rule ? json(plan::text_of(*terms.decision_rule)) : json()}};
}

Result<plan::Terms> terms_of(const json& document) {
    const Error wrong{Fault::bad_input, "'terms' is not as this program writes it", "record.json",
                      "Give a report as it was written"};
    plan::Terms terms;
    if (document.is_null()) return terms;
    if (!document.is_object()) return wrong;
    const json specification = document.value("specification", json());
    const json levels = document.value("levels", json::array());
    const json rule = document.value("decision_rule", json());
    if (specification.is_string())
        terms.specification = specification;
    else if (!specification.is_null())
        return wrong;
    if (!levels.is_array()) return wrong;
    for (const json& text : levels) {
        if (!text.is_string()) return wrong;
        auto level = plan::parse_level(text.get<std::string>());
        if (!level || level->value == 0) return wrong;
        terms.levels.push_back(std::move(level).value());
    }
    if (rule.is_string()) {
        auto parsed = plan::parse_rule(rule.get<std::string>());
        if (!parsed) return wrong;
        terms.decision_rule = std::move(parsed).value();
    } else if (!rule.is_null()) {
        return wrong;
    }
    return terms;
}

}  // namespace ebbtide::record
