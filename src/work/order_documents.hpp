#pragma once
// The documents that an order is judged by: order, method, specification, bench, and what terms put in the
// place of the specification.

#include <optional>
#include <string>

#include "basis/result.hpp"
#include "plan/terms.hpp"
#include "record/order_record.hpp"
#include "work/order_files.hpp"

namespace ebbtide::work {

/// A cited file is one of the order's folder when its name ends in .toml, else a shipped one.
[[nodiscard]] bool is_own(const std::string& cited);

/// Reads the documents into the record, with their hashes among its inputs and folders of recordings spread
/// out; the result is the specification that the terms name instead of the cited one, if they name one.
/// Errors: a document is missing or wrong (file and line); a cited edition is not the one found; documents
/// and bench are of different apparatus.
[[nodiscard]] Result<std::optional<plan::Specification>> read_documents(const OrderFiles& files,
                                                                        const plan::Terms& terms,
                                                                        record::OrderRecord& record);

}  // namespace ebbtide::work
