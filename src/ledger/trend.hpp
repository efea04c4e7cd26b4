#pragma once
// How the decay time of a material went over the months or years.

#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>
#include <vector>

#include "ledger/database.hpp"

namespace ebbtide::ledger {

struct TrendQuery {
    enum class By { month, year };
    std::string material;         ///< held by an item's description, letters A to Z without case
    std::optional<double> level;  ///< this one only; nothing: all of them
    std::string level_kind;       ///< "fraction" or "absolute_V", of `level`
    By by = By::year;
};

struct TrendPeriod {
    std::string period;                   ///< "2026" or "2026-09"
    std::int64_t times = 0;               ///< counted decay times
    std::optional<double> mean_s;         ///< geometric mean; nothing without times
    std::optional<double> spread_factor;  ///< exp(standard deviation of ln t), n - 1; from two times on
    std::optional<double> shortest_s, longest_s;
    std::int64_t longer = 0, shorter = 0;  ///< runs beside them that gave a lower, an upper bound only
    std::int64_t orders = 0, failed = 0;   ///< 0 of transcribed times, which have no order
};

/// What may be compared over time: one material under one method, conditions and level.
struct TrendSeries {
    std::string material, method, conditions, level_kind;
    double level = 0;
    bool transcribed = false;          ///< copied by hand, without trace; apart from those that were measured
    std::vector<TrendPeriod> periods;  ///< those with tests, the oldest first
};

/// By material, method and level; within these by conditions, transcribed times last.
[[nodiscard]] Result<std::vector<TrendSeries>> trend(Database& database, const TrendQuery& query);

/// ebbtide.ledger-trend/1, docs/formats/ledger.md.
[[nodiscard]] nlohmann::json json_of(const std::vector<TrendSeries>& trend);

}  // namespace ebbtide::ledger
