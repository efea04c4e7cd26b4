#pragma once
// The table that trends are read from: what the runs of a month come to, so that the trend over a million
// runs is a read of a few rows.
//
// Worked out from found_order, found_item and found_run, never added to and subtracted from: a withdrawn run
// leaves nothing behind.

#include <functional>
#include <map>
#include <optional>
#include <string>
#include <tuple>
#include <vector>

#include "ledger/database.hpp"

namespace ebbtide::ledger {

/// What is pooled in a row: the counted runs of all orders that are alike in this.
struct TrendKey {
    std::string material;  ///< an item's description
    std::string method, conditions, level_kind;
    double level = 0;
    std::string month;  ///< in which the test ended: "2026-09"

    /// What a row has in common with the other months of its series.
    [[nodiscard]] auto series() const { return std::tie(material, method, conditions, level_kind, level); }
    [[nodiscard]] auto tied() const { return std::tuple_cat(series(), std::tie(month)); }
    bool operator<(const TrendKey& other) const { return tied() < other.tied(); }
};

struct TrendSums {
    std::int64_t times = 0;          ///< decay times above zero
    double sum_ln = 0, sum_ln2 = 0;  ///< of ln(decay_s) and its square
    std::optional<double> shortest_s, longest_s;
    std::int64_t longer = 0, shorter = 0;  ///< runs that gave a lower, an upper bound only
    std::int64_t orders = 0, failed = 0;   ///< orders, and those of them whose statement is `fail`

    void add_time(double decay_s);
    void add(const TrendSums& other);
    /// Whether both say the same; sums of logarithms to 1e-9, which differ between processors.
    [[nodiscard]] bool agrees_with(const TrendSums& other) const;
};
using TrendRows = std::map<TrendKey, TrendSums>;

/// The rows that change together.
struct TrendPlace {
    std::string material, month;
    bool operator==(const TrendPlace&) const = default;
};

/// The places that the statement of this number has a part in.
[[nodiscard]] Result<std::vector<TrendPlace>> trend_places_of_order(Database& database, std::int64_t number);
/// Those of the runs of an item: none before the order has its statement.
[[nodiscard]] Result<std::vector<TrendPlace>> trend_places_of_run(Database& database,
                                                                  const std::string& order,
                                                                  const std::string& item);
/// Works the rows of these places out anew, within a Writing.
[[nodiscard]] Result<Done> refresh_trend(Database& database, const std::vector<TrendPlace>& places);
/// All of them.
[[nodiscard]] Result<Done> rebuild_trend(Database& database);

/// All rows, from the tables for finding.
[[nodiscard]] Result<TrendRows> worked_out_trend(Database& database);
/// Hands out the rows that stand in the table, of the materials that hold this text, by key.
[[nodiscard]] Result<Done> each_trend_row(Database& database, const std::string& material,
                                          const std::function<void(const TrendKey&, const TrendSums&)>& row);

/// The same of any ledger: one of schema 1 that is only read has no such table yet, and all is worked out.
[[nodiscard]] Result<Done> each_trend(Database& database, const std::string& material,
                                      const std::function<void(const TrendKey&, const TrendSums&)>& row);

}  // namespace ebbtide::ledger
