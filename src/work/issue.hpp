#pragma once
// Issues the report of an order: enters day and person, judges, writes the report, keeps it in the ledger.

#include <optional>
#include <string>

#include "basis/instant.hpp"
#include "plan/conformity.hpp"
#include "report/report.hpp"

namespace ebbtide::work {

struct IssueRequest {
    std::string folder;
    std::string who, role;  ///< who authorises it; the role may be empty
    Date issued;
    std::optional<Date> tested_from = {}, tested_to = {};  ///< where they are others than was planned
    report::Paper paper = report::Paper::a4;
    std::string ledger = {};  ///< file; empty: none
    Instant now = {};
};

struct Issued {
    std::string order;
    int revision = 0;
    std::string file;  ///< relative to the order's folder: "issued/TP-2026-0914-1.pdf"
    std::string sha256;
    std::size_t bytes = 0;
    plan::Conformity statement = plan::Conformity::void_;
    bool in_ledger = false;
};

inline constexpr const char* issued_folder = "issued";

/// The ledger first: nothing is issued that it does not hold. After an error nothing of the order has
/// changed. Errors: bad_input, what is asked is not allowed by the order format; inconsistent, the order as
/// it stands cannot be issued (it is already, no run is recorded, what judge_order() refuses); unreadable,
/// folder or ledger cannot be read or written.
[[nodiscard]] Result<Issued> issue(const IssueRequest& request);

}  // namespace ebbtide::work
