#include "paperwork/supplied_results.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <set>
#include <utility>

#include "paperwork/toml_tree.hpp"

namespace ebbtide::paperwork {
namespace {

constexpr Range any_number{.least = -1e12, .most = 1e12};
constexpr Range not_negative{.least = 0, .most = 1e12};

std::string specimen_of(TableReader& table, const std::vector<plan::Specimen>& specimens) {
    if (!table.has("specimen")) return table.text_or("specimen", "");
    const std::string id = table.id("specimen");
    if (id.empty() || std::ranges::find(specimens, id, &plan::Specimen::id) != specimens.end()) return id;
    std::vector<std::string> known;
    for (const plan::Specimen& specimen : specimens) known.push_back(specimen.id);
    table.problem("specimen", fmt::format("no [[specimen]] has the id '{}'", shortened(id)),
                  table.suggestion(id, known,
                                   "Describe it under [[specimen]], or leave the key out when the "
                                   "result is of the items as a whole"));
    return id;
}

}  // namespace

std::vector<plan::SuppliedResult> supplied_results(TableReader& top,
                                                   const std::vector<plan::Specimen>& specimens) {
    std::vector<plan::SuppliedResult> out;
    std::set<std::pair<std::string, std::string>> seen;
    for (TableReader& table : top.tables_or_none("supplied")) {
        plan::SuppliedResult result;
        result.quantity = table.id("quantity");
        result.specimen = specimen_of(table, specimens);
        result.value = table.number("value", any_number);
        result.u = table.number("u", not_negative);
        result.source = table.text("source");
        if (!result.quantity.empty() && !seen.emplace(result.quantity, result.specimen).second)
            table.problem("quantity",
                          fmt::format("'{}' of {} is supplied twice", shortened(result.quantity),
                                      result.specimen.empty() ? "the items as a whole"
                                                              : "specimen " + shortened(result.specimen)),
                          "Keep the one that counts");
        out.push_back(std::move(result));
    }
    return out;
}

}  // namespace ebbtide::paperwork
