#pragma once
// A run at a place of the plan, as the live file has it and as the method judges it.

#include <string>

#include "judge/judgement.hpp"
#include "record/order_record.hpp"
#include "work/measure.hpp"

namespace ebbtide::work {

/// The keys of a place in the live file.
[[nodiscard]] std::string place_lines(const plan::RunKey& key);

/// The run with what the method says of it at that place.
[[nodiscard]] judge::JudgedRun judged_at(const MeasuredRun& run, const plan::RunKey& key,
                                         const record::OrderRecord& record);

}  // namespace ebbtide::work
