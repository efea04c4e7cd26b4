#pragma once
// Where compared times come from: judged orders, or tables of bare times.

#include <span>
#include <string>
#include <vector>

#include "plan/level.hpp"
#include "record/order_record.hpp"
#include "work/compare.hpp"

namespace ebbtide::work {

/// The level that is compared: the one asked for, or the only one that requirements of the orders are about.
/// Errors: `asked` (empty: none) is no level; the orders ask for several; none asks for one.
[[nodiscard]] Result<plan::Level> compared_level(std::span<const record::OrderRecord> orders,
                                                 const std::string& asked);

/// The counted runs of an order, with what each belongs to: source (the order's id), customer, material (the
/// item's description), lot, item, state, direction, face, polarity, conditions, date (the first day of
/// testing). Specimens are told apart by their order. Runs without a time that could be used go to
/// `left_out`.
[[nodiscard]] std::vector<LotTime> times_of(const record::OrderRecord& order, const plan::Level& level,
                                            std::vector<std::string>& left_out);

/// The rows of a table (docs/formats/lot.md, with the columns of docs/formats/compare.md); their source is
/// `name`. Errors: as read_lot_times().
[[nodiscard]] Result<std::vector<LotTime>> times_of_table(std::string_view table, const std::string& name);

}  // namespace ebbtide::work
