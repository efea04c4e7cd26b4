#pragma once
// An order, or its report, into the ledger: judged or read, then written as a whole or not at all.

#include <string>
#include <vector>

#include "ledger/audit.hpp"
#include "ledger/database.hpp"
#include "report/report.hpp"
#include "work/measure_order.hpp"

namespace ebbtide::work {

struct LedgerAddition {
    std::string place;  ///< folder that holds order.toml, or a PDF report of ours
    std::string who;    ///< initials; needed where something is corrected, like `why`
    std::string why;
};

struct LedgerAdded {
    std::string order;
    std::int64_t revision = 0;                  ///< of the statement in the ledger
    std::string statement;                      ///< of conformity
    std::int64_t entries = 0, segments = 0;     ///< written now; none when all of it was there
    std::int64_t withdrawn = 0;                 ///< runs that the order no longer has
    std::vector<std::string> differences = {};  ///< that verify found in the report, which is kept as it is
    ledger::Link head;
};

/// What was just judged, as report_input() gives it, so that nothing is worked out a second time.
struct JudgedToKeep {
    std::vector<report::Attachment> files;  ///< record.json among them
    std::string pdf;                        ///< the report that was just made of it; empty: none
};

/// The order is judged first, without holding up other writers. What is there already is not written again.
/// Errors: those of judge_order(); a report under other terms; something is corrected without who or why;
/// what Writing says.
[[nodiscard]] Result<LedgerAdded> add_to_ledger(ledger::Database& ledger, const LedgerAddition& addition,
                                                Instant now, const Progress& progress = {});

/// The same of an order that is judged already; `addition.place` says in messages where it came from.
[[nodiscard]] Result<LedgerAdded> keep_judged(ledger::Database& ledger, JudgedToKeep judged,
                                              const LedgerAddition& addition, Instant now);

}  // namespace ebbtide::work
