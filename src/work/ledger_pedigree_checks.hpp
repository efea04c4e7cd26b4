#pragma once
// The part of a pedigree that says which bench checks stood on either side of a run.

#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>

#include "ledger/entries.hpp"

namespace ebbtide::work {

/// When the recording of a run began, read from the bytes that are kept of it; nothing where it does not say
/// so, or is not kept. `recording` is that of a pedigree.
[[nodiscard]] Result<std::optional<Instant>> began(ledger::Database& ledger, const nlohmann::json& record,
                                                   const nlohmann::json& recording);

/// `before`, `override`, `after` of a run on the record's bench; null where the bench or the time of the
/// recording is not known.
[[nodiscard]] Result<nlohmann::json> checks_about(ledger::Database& ledger, const nlohmann::json& record,
                                                  const std::optional<Instant>& at);

/// The checks and overrides that the statement rests on, the oldest first.
[[nodiscard]] Result<nlohmann::json> checks_of_statement(ledger::Database& ledger,
                                                         const nlohmann::json& statement);

}  // namespace ebbtide::work
