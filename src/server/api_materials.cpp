// What the ledger knows of materials and orders.

#include <filesystem>
#include <map>

#include "ledger/find.hpp"
#include "ledger/trend.hpp"
#include "server/handlers.hpp"
#include "server/order_json.hpp"

namespace ebbtide::server {
namespace {

using nlohmann::json;

constexpr double most_orders = 1000;  // found orders whose levels go into one answer

struct Material {
    json series = json::array();
    std::int64_t times = 0;
    std::string first, last;  ///< periods: their order is that of their texts
};

}  // namespace

Reply list_materials(const Call& call) {
    if (call.desk.ledger.empty())
        return json_reply(
            {{"schema", "ebbtide.page-materials/1"}, {"ledger", json()}, {"materials", json::array()}});
    const auto ledger = ledger_of(call);
    if (!ledger) return ledger.instead;
    const auto trend = ledger::trend(**ledger, {});
    if (!trend) return conflict(trend.error());
    const json all = ledger::json_of(*trend);
    std::map<std::string, Material> materials;
    for (std::size_t i = 0; i < trend->size(); ++i) {
        const ledger::TrendSeries& series = (*trend)[i];
        Material& material = materials[series.material];
        material.series.push_back(all.at("series").at(i));
        for (const ledger::TrendPeriod& period : series.periods) {
            material.times += period.times;
            if (material.first.empty() || period.period < material.first) material.first = period.period;
            if (period.period > material.last) material.last = period.period;
        }
    }
    json list = json::array();
    for (auto& [name, material] : materials)
        list.push_back({{"material", name},
                        {"series", std::move(material.series)},
                        {"times", material.times},
                        {"first", material.first},
                        {"last", material.last}});
    return json_reply({{"schema", "ebbtide.page-materials/1"},
                       {"ledger", std::filesystem::path(call.desk.ledger).filename().string()},
                       {"materials", std::move(list)}});
}

Reply material_trend(const Call& call) {
    ledger::TrendQuery query;
    query.material = call.parameter("material");
    const std::string by = call.parameter("by", "year");
    if (by != "year" && by != "month")
        return refused("is neither year nor month", "by", "Ask for one of them");
    query.by = by == "month" ? ledger::TrendQuery::By::month : ledger::TrendQuery::By::year;
    if (const std::string text = call.parameter("level"); !text.empty()) {
        const auto level = plan::parse_level(text);
        if (!level) return refused(level.error());
        query.level = level->value;
        query.level_kind = level->kind == plan::Level::Kind::fraction ? "fraction" : "absolute_V";
    }
    const auto ledger = ledger_of(call);
    if (!ledger) return ledger.instead;
    const auto trend = ledger::trend(**ledger, query);
    if (!trend) return conflict(trend.error());
    return json_reply(ledger::json_of(*trend));
}

Reply find_in_ledger(const Call& call) {
    ledger::Query query;
    for (const auto& [name, text] : {std::pair{"order", &query.order},
                                     {"customer", &query.customer},
                                     {"material", &query.material},
                                     {"lot", &query.lot},
                                     {"method", &query.method},
                                     {"specification", &query.specification},
                                     {"bench", &query.bench},
                                     {"certificate", &query.certificate},
                                     {"statement", &query.statement}})
        *text = call.parameter(name);
    for (const auto& [name, date] : {std::pair{"from", &query.from}, {"to", &query.to}}) {
        const std::string text = call.parameter(name);
        if (text.empty()) continue;
        const auto parsed = parse_date(text);
        if (!parsed) return refused(parsed.error().what, name, parsed.error().remedy);
        *date = *parsed;
    }
    const auto limit = call.number("limit", 100, 1, most_orders);
    if (!limit) return refused(limit.error());
    const auto ledger = ledger_of(call);
    if (!ledger) return ledger.instead;
    const auto found = ledger::find(**ledger, query, static_cast<std::size_t>(*limit));
    if (!found) return refused(found.error());
    const auto all = ledger::count(**ledger, query);
    if (!all) return conflict(all.error());
    auto out = ledger::json_of(**ledger, *found);
    if (!out) return conflict(out.error());
    const auto keys = keys_by_order_id(call.desk.folder);
    for (json& order : out.value()["orders"]) {
        const auto there = keys.find(order["order"].get<std::string>());
        order["keys"] = there == keys.end() ? json::array() : json(there->second);
    }
    out.value()["left_off"] = *all - std::min(*all, found->size());
    return json_reply(*out);
}

}  // namespace ebbtide::server
