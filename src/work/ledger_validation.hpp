#pragma once
// What `validate` found on a computer, dated, in the ledger.

#include <nlohmann/json_fwd.hpp>
#include <string>

#include "ledger/audit.hpp"
#include "ledger/find.hpp"
#include "validation/validation.hpp"

namespace ebbtide::work {

struct ValidationKept {
    std::string id;  ///< "COMPUTER, INSTANT"
    ledger::Link head;
};
/// Keeps the report, a PDF, as a segment and what it says as an entry. Errors: what Writing says; one of this
/// computer and instant is there.
[[nodiscard]] Result<ValidationKept> keep_validation(ledger::Database& ledger,
                                                     const validation::Validation& validation,
                                                     const std::string& pdf, const std::string& who,
                                                     Instant now);

/// ebbtide.ledger-validations/1: the newest first; of these days, where `from` and `to` are asked.
[[nodiscard]] Result<nlohmann::json> validations(ledger::Database& ledger, const ledger::Query& query);

/// The report of one. Error: no such validation.
[[nodiscard]] Result<std::string> validation_report(ledger::Database& ledger, const std::string& id);

}  // namespace ebbtide::work
