#pragma once
// Reference runs while an order is heard: what hangs in the clamps is no specimen of the order.

#include <string>

#include "basis/result.hpp"
#include "record/order_record.hpp"
#include "work/live_event.hpp"
#include "work/reference_runs.hpp"
#include "work/run_container.hpp"

namespace ebbtide::work {

/// Fills `out` with the run as judging the order will have it, and with its figures beside the bench's
/// limits. It never counts. Error: as measured_from().
[[nodiscard]] Result<Done> take_reference(RunRecorded& out, plan::Mounted mounted,
                                          const RunContainer& container, const record::OrderRecord& record,
                                          const std::string& conditions);

/// V0 as the reference runs of the order's folder give it, listed and heard. Errors: those of
/// reference_levels().
[[nodiscard]] Result<ReferenceLevels> levels_in(const std::string& folder, const record::OrderRecord& record,
                                                const std::vector<plan::PlannedRecording>& heard);

}  // namespace ebbtide::work
