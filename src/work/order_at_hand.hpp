#pragma once
// An order that is worked on: what its folder says now, and how its plan stands, before anything is judged.

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "judge/judgement.hpp"
#include "record/order_record.hpp"
#include "work/order_files.hpp"

namespace ebbtide::work {

/// The files of an order's folder; where it names a live file that was not written yet, an empty one stands
/// for it. Errors: those of parse_order().
[[nodiscard]] Result<std::unique_ptr<OrderFiles>> files_at_hand(const std::string& folder);

/// A run and the place that it was laid on.
struct LaidRun {
    plan::RunKey key;
    std::string run;  ///< id; empty where it is not known before the recording is read
    bool counts = true;
};
/// As order and live file have it, in their order. Errors: those of parse_live().
[[nodiscard]] Result<std::vector<LaidRun>> laid_runs(const OrderFiles& files,
                                                     const record::OrderRecord& documents);
/// As it was judged; runs without specimen, unplanned and missing ones are left out.
[[nodiscard]] std::vector<LaidRun> laid_runs(const judge::Judgement& judgement, const plan::Order& order);

/// A place of the plan and what lies on it.
struct OrderPlace {
    enum class State { open, filled, void_ };
    plan::RunKey key;  ///< without conditions where the order has several and no run lies here
    State state = State::open;
    std::vector<std::string> runs = {};     ///< ids, retests last
    std::optional<std::size_t> index = {};  ///< among places_of_plan(); nothing for a run beside the plan
};
[[nodiscard]] std::string_view name_of(OrderPlace::State state);

/// Every place that the method asks for, under the conditions in which its runs were made; then those of runs
/// beside the plan. A place is filled by a run that counts, void when none of its runs does.
[[nodiscard]] std::vector<OrderPlace> order_places(const plan::Order& order, const plan::Method& method,
                                                   const std::vector<LaidRun>& laid);

}  // namespace ebbtide::work
