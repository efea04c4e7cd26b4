#include "ledger/materials.hpp"

#include <map>
#include <nlohmann/json.hpp>

#include "ledger/trend_rows.hpp"

namespace ebbtide::ledger {

Result<std::vector<Material>> materials(Database& database) {
    const auto snapshot = Snapshot::begin(database);
    if (!snapshot) return snapshot.error();
    // A material may be several items of one order.
    std::map<std::string, Material> found;
    auto read = database.each(
        "WITH reported AS (SELECT e.id FROM entry e WHERE e.kind = 'report' AND e.voided = 0 AND e.revision "
        "= "
        "(SELECT max(revision) FROM entry WHERE kind = 'report' AND id = e.id)) "
        "SELECT i.material, count(*), sum(o.statement = 'fail'), sum(o.order_id IN (SELECT id FROM "
        "reported)), "
        "min(o.tested_to), max(o.tested_to) "
        "FROM (SELECT DISTINCT number, material FROM found_item) i JOIN found_order o ON o.number = i.number "
        "GROUP BY i.material",
        {}, [&](const Row& row) -> Result<Done> {
            found[row.text(0)] = {row.text(0), row.integer(1), row.integer(2), row.integer(3),
                                  0,           row.text(4),    row.text(5)};
            return Done{};
        });
    if (!read) return read.error();
    read = each_trend(database, "", [&](const TrendKey& key, const TrendSums& sums) {
        if (const auto material = found.find(key.material); material != found.end())
            material->second.times += sums.times;
    });
    if (!read) return read.error();
    std::vector<Material> all;
    for (auto& [name, material] : found) all.push_back(std::move(material));
    return all;
}

nlohmann::json json_of(const std::vector<Material>& materials) {
    nlohmann::json all = nlohmann::json::array();
    for (const Material& one : materials)
        all.push_back({{"material", one.material},
                       {"orders", one.orders},
                       {"failed", one.failed},
                       {"reports", one.reports},
                       {"times", one.times},
                       {"first_tested", one.first_tested},
                       {"last_tested", one.last_tested}});
    return {{"schema", "ebbtide.ledger-materials/1"}, {"materials", std::move(all)}};
}

}  // namespace ebbtide::ledger
