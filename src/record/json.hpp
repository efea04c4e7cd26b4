#pragma once
// JSON of records. Keys are documented in docs/formats/; adding keys is free, changing a meaning bumps the
// schema.

#include <nlohmann/json_fwd.hpp>
#include <string>

#include "decay/figures.hpp"
#include "judge/judgement.hpp"
#include "record/order_record.hpp"

namespace ebbtide::record {

/// Canonical text: keys sorted, two-space indent, doubles as the shortest text that reads back the same. A
/// number that is not finite is a broken invariant and throws.
[[nodiscard]] std::string canonical_text(const nlohmann::json& document);

/// The figures of a run as in ebbtide.measure/1 (without "run").
[[nodiscard]] nlohmann::json json_of(const decay::Figures& figures);
[[nodiscard]] nlohmann::json json_of(const plan::Flag& flag);
[[nodiscard]] nlohmann::json json_of(const judge::Judgement& judgement);
/// ebbtide.record/1
[[nodiscard]] nlohmann::json json_of(const OrderRecord& record);

}  // namespace ebbtide::record
