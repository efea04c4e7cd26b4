#pragma once
// Withdrawing what a ledger holds, by a next revision, and who revised what and why. Nothing is deleted.

#include <nlohmann/json_fwd.hpp>
#include <string>
#include <vector>

#include "ledger/audit.hpp"
#include "ledger/entries.hpp"

namespace ebbtide::work {

struct Withdrawal {
    std::string order;  ///< id
    std::string run;    ///< id, beginning of it, or label; empty: the statement, its report and all its runs
    std::string who;
    std::string why;
};

struct Withdrawn {
    std::vector<std::string> entries;  ///< "run TP-1/3f2a...", in the order in which they were withdrawn
    bool statement_stands = false;     ///< a run was withdrawn that the statement still rests on
    ledger::Link head;
};

/// As a whole or not at all. Errors: no such order or run, or withdrawn already; no who or why; what Writing
/// says.
[[nodiscard]] Result<Withdrawn> withdraw(ledger::Database& ledger, const Withdrawal& withdrawal, Instant now);

/// Withdraws a bench check or a validation by its id, which stands as the withdrawal's `order`. Errors: it is
/// not there, or withdrawn already; no who or why; what Writing says.
[[nodiscard]] Result<ledger::Link> withdraw_entry(ledger::Database& ledger, ledger::Kind kind,
                                                  const Withdrawal& withdrawal, Instant now);

/// Every revision of an order, its statement, reports and runs, in the order in which they were written.
/// Error: no such order.
[[nodiscard]] Result<std::vector<ledger::Entry>> order_revisions(ledger::Database& ledger,
                                                                 const std::string& order);

/// ebbtide.ledger-revisions/1, docs/formats/ledger.md.
[[nodiscard]] nlohmann::json json_of(const std::string& order, const std::vector<ledger::Entry>& revisions);

}  // namespace ebbtide::work
