#pragma once
// A report out of the ledger: as it was issued, or made again from what is kept.

#include <string>

#include "ledger/database.hpp"
#include "work/order_files.hpp"

namespace ebbtide::work {

struct LedgerReport {
    std::string pdf;
    bool as_issued = false;  ///< the very bytes that came in; else made again from the kept files
};

/// Of the newest statement of the order. Errors: no such order, or it is voided; not all of its files are
/// kept.
[[nodiscard]] Result<LedgerReport> report_from_ledger(ledger::Database& ledger, const std::string& order);

/// The files of an order as they were judged, record.json among them.
[[nodiscard]] Result<std::vector<report::Attachment>> files_from_ledger(ledger::Database& ledger,
                                                                        const std::string& order);

}  // namespace ebbtide::work
