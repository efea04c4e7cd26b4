#pragma once
// People of a ledger: names, and the initials by which entries know them.

#include <nlohmann/json_fwd.hpp>
#include <string>

#include "ledger/entries.hpp"

namespace ebbtide::work {

struct PersonAddition {
    std::string name, initials;
    std::string who, why;  ///< needed where a person who is there already is corrected
};
/// Writes who the initials are. Nothing is written where the ledger says so already. Errors: no name or no
/// initials; other initials are kept and who or why is missing; the initials are those of somebody else.
[[nodiscard]] Result<ledger::Entry> add_person(ledger::Database& ledger, const PersonAddition& person,
                                               Instant now);

/// The body of a person: `name`, `initials` (null: not stated).
[[nodiscard]] nlohmann::json person_body(const std::string& name, const std::string& initials);

}  // namespace ebbtide::work
