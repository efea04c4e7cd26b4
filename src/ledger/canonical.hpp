#pragma once
// Canonical JSON on one line, and the text that a ledger takes: docs/formats/ledger.md.

#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <string_view>

#include "basis/result.hpp"

namespace ebbtide::ledger {

/// What is wrong with a text: bytes that are no UTF-8, or U+0000. `name` says whose text it is.
[[nodiscard]] std::optional<Error> fault_of_text(std::string_view text, const std::string& name);

/// The canonical line. Errors: a text or key in it that no ledger takes, with its place. A number that is
/// not finite is a broken invariant and throws.
[[nodiscard]] Result<std::string> canonical_line(const nlohmann::json& document);

/// Reads a canonical line. Errors: no JSON; deeper than 64 levels; not canonical.
[[nodiscard]] Result<nlohmann::json> parse_canonical(std::string_view line);

}  // namespace ebbtide::ledger
