#pragma once
// A recording that a ledger keeps, read as the order that brought it had it read.

#include <nlohmann/json_fwd.hpp>
#include <string>

#include "recording/source.hpp"

namespace ebbtide::work {

/// How an order had its recording `file` read, by its record (ebbtide.record/1): its own word, else its
/// bench's. A record that says nothing of it gives what is usual.
[[nodiscard]] recording::ReadOptions kept_read_options(const nlohmann::json& record, const std::string& file);

}  // namespace ebbtide::work
