#pragma once
// Judges an order: from its files to one record of documents, figures and statement.

#include <nlohmann/json.hpp>

#include "work/measure_order.hpp"

namespace ebbtide::work {

/// Judges an order, under other terms than its own when there are any. Errors: those of measure_order(); the
/// report that this one replaces is another.
[[nodiscard]] Result<JudgedOrder> judge_order(const OrderFiles& files, Instant made,
                                              const Progress& progress = {}, const plan::Terms& terms = {},
                                              const Retention& retention = {}, Depth depth = {});

/// The judgement under the order's own terms, or under `terms`.
[[nodiscard]] judge::Judgement judgement_of(const MeasuredOrder& measured, const plan::Terms& terms);
/// The whole record; its specification is the one that was applied.
[[nodiscard]] JudgedOrder judged_under(MeasuredOrder measured, const plan::Terms& terms);

/// ebbtide.judge/1, docs/formats/measure.md.
[[nodiscard]] nlohmann::json judgement_json(const record::OrderRecord& record);

}  // namespace ebbtide::work
