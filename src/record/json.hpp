#pragma once
// JSON of records. Keys are documented in docs/formats/; adding keys is free, changing a meaning bumps the
// schema.

#include <nlohmann/json.hpp>
#include <string>
#include <string_view>

#include "basis/result.hpp"
#include "decay/figures.hpp"
#include "judge/judgement.hpp"
#include "record/order_record.hpp"

namespace ebbtide::record {

/// Canonical text: keys sorted, two-space indent, doubles as the shortest text that reads back the same, a
/// line end at the end. A number that is not finite is a broken invariant and throws.
[[nodiscard]] std::string canonical_text(const nlohmann::json& document);

/// The figures of a run as in ebbtide.measure/1, without "run".
[[nodiscard]] nlohmann::json json_of(const decay::Figures& figures);
/// What a fall says of its law, as in ebbtide.fit/1; a number that is not finite is null.
[[nodiscard]] nlohmann::json json_of(const decay::LawFigures& law);
[[nodiscard]] nlohmann::json json_of(const decay::Extrapolated& time);
[[nodiscard]] nlohmann::json json_of(const decay::Contribution& part);
[[nodiscard]] nlohmann::json json_of(const plan::Flag& flag);
[[nodiscard]] nlohmann::json json_of(const judge::Judgement& judgement);
[[nodiscard]] nlohmann::json json_of(const plan::Method& method);
[[nodiscard]] nlohmann::json json_of(const plan::Specification& specification);
[[nodiscard]] nlohmann::json json_of(const plan::Bench& bench);
[[nodiscard]] nlohmann::json json_of(const plan::Order& order);
[[nodiscard]] nlohmann::json json_of(const trace::ChannelDescription& channel);
[[nodiscard]] nlohmann::json json_of(const trace::Notice& notice);
/// Null when there are none.
[[nodiscard]] nlohmann::json json_of(const plan::Terms& terms);
/// Reads json_of(terms) back. Error: another shape.
[[nodiscard]] Result<plan::Terms> terms_of(const nlohmann::json& document);
/// ebbtide.record/1
[[nodiscard]] nlohmann::json json_of(const OrderRecord& record);

/// As the enumerators are written.
[[nodiscard]] std::string_view name_of(fit::Standing standing);
[[nodiscard]] std::string_view name_of(fit::Outcome outcome);

/// SHA-256 of method, specification, bench and order as understood: layout and comments of their files do not
/// matter.
[[nodiscard]] std::string settings_hash(const plan::Order& order, const plan::Method& method,
                                        const plan::Specification& specification,
                                        const std::optional<plan::Bench>& bench);

/// A value, or null where there is none.
template <class T>
[[nodiscard]] nlohmann::json or_null(const std::optional<T>& value) {
    return value ? nlohmann::json(*value) : nlohmann::json();
}

/// A text, or null where it is empty.
[[nodiscard]] nlohmann::json text_or_null(const std::string& text);

/// A number, or null where a search that went astray, or a square that overflowed, may have left a number
/// that is none: then it is absent, and what stands beside it says why.
[[nodiscard]] nlohmann::json finite_or_null(const std::optional<double>& value);

}  // namespace ebbtide::record
