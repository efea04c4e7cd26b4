#pragma once
// Lots of judged orders: which runs belong together, and whether their sampling supports a claim.

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "record/order_record.hpp"
#include "work/lot.hpp"

namespace ebbtide::work {

/// What one requirement asks of one lot.
struct OrderLot {
    std::vector<std::string> orders;   ///< ids
    std::string requirement;           ///< id
    std::string sentence;              ///< the requirement in words
    std::string group;                 ///< "Roll 7, warp, as received"
    std::string sampling_plan;         ///< as the order states it; empty: none
    std::optional<plan::Level> level;  ///< of bare times: not known
    Lot lot;
};

/// Counted runs of the orders by requirement (those about a decay time), lot, direction and state; specimens
/// are told apart by their order. Orders with the same requirement and lot go together. A run that counts but
/// has no time that could be used is listed as left out. The limit is the requirement's; the claim is that of
/// `request`. An order that states no sampling plan supports no claim. Errors: no such requirement or run in
/// any order.
[[nodiscard]] Result<std::vector<OrderLot>> lots_of(std::span<const record::OrderRecord> orders,
                                                    const LotRequest& request);

/// What a figure says of the decay time; nothing where it has neither a time nor a bound.
[[nodiscard]] std::optional<stats::Observation> observation_of(const decay::LevelFigure& figure);

/// json_of(lot) with what the orders add.
[[nodiscard]] nlohmann::json json_of(const OrderLot& lot);
/// ebbtide.lot/1 of orders, docs/formats/lot.md.
[[nodiscard]] nlohmann::json lots_json(std::span<const OrderLot> lots);

}  // namespace ebbtide::work
