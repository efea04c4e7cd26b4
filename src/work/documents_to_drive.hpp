#pragma once
// What has to be read before a bench is driven: the documents of the order, and the bench that they name.

#include <optional>
#include <string>

#include "basis/result.hpp"
#include "bench/guarded_run.hpp"
#include "record/order_record.hpp"

namespace ebbtide::work {

/// The documents of an order to drive. One that was never worked on live has no live file yet: it reads as
/// an empty one. Errors: as read_documents(); the order names no live file.
[[nodiscard]] Result<record::OrderRecord> documents_to_drive(const std::string& folder);

/// The bench of an order to drive: the file that the request names, or the order's own. Errors: as
/// parse_bench(); another bench than the order's; it has no [drive].
[[nodiscard]] Result<plan::Bench> bench_to_drive(const std::string& bench_file,
                                                 const std::optional<plan::Bench>& own);

[[nodiscard]] bench::Scales scales_of(const plan::Bench& bench);

}  // namespace ebbtide::work
