#pragma once
// Every material that was tested, with how much there is of it.

#include <cstdint>
#include <nlohmann/json_fwd.hpp>
#include <string>
#include <vector>

#include "ledger/database.hpp"

namespace ebbtide::ledger {

struct Material {
    std::string material;  ///< an item's description
    std::int64_t orders = 0, failed = 0;
    std::int64_t reports = 0;  ///< orders whose report is kept
    std::int64_t times = 0;    ///< counted decay times, of all levels and conditions
    std::string first_tested, last_tested;
};

/// By name, from the statements that stand. What was transcribed is not among them.
[[nodiscard]] Result<std::vector<Material>> materials(Database& database);

/// ebbtide.ledger-materials/1, docs/formats/ledger.md.
[[nodiscard]] nlohmann::json json_of(const std::vector<Material>& materials);

}  // namespace ebbtide::ledger
