#pragma once
// The places of an order's plan, and which of them are still open.

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "plan/method.hpp"
#include "plan/order.hpp"

namespace ebbtide::work {

/// A place of the plan and the runs that were laid on it.
struct PlanPlace {
    plan::RunKey key;
    bool either_polarity = false;  ///< the method leaves it open, and so does this place until a run fills it
    int runs = 0;                  ///< laid on it
    bool filled = false;           ///< by one that counts
};

/// Every specimen of the order, each face and polarity of the method, so many replicates as it asks for, in
/// this order, all under `conditions`. The face is "front" where the method names none.
[[nodiscard]] std::vector<PlanPlace> places_of_plan(const plan::Order& order, const plan::Method& method,
                                                    const std::string& conditions);

/// The first place at or behind `from` that no run fills; then from the beginning on. Nothing when all are
/// filled.
[[nodiscard]] std::optional<std::size_t> open_place(const std::vector<PlanPlace>& places, std::size_t from);

}  // namespace ebbtide::work
