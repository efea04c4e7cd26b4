#pragma once
// What earlier lots of a material say of the next one: from their times, from a ledger, or as stated.

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "ledger/database.hpp"
#include "record/order_record.hpp"
#include "work/lot.hpp"

namespace ebbtide::work {

/// Times with the label `lot`. A lot with bounds among its times is taken by its lognormal fit; one that has
/// none is left out, and the source says so. Errors: fewer than three lots; none has two specimens.
[[nodiscard]] Result<LotPrior> history_of_times(const std::vector<LotTime>& times, const std::string& name);

struct LedgerHistory {
    std::string material;
    plan::Level level;
    std::optional<Date> before = {};  ///< months before that of this day only: a lot is not its own history
};
/// What is asked for lots of these orders: the material of their first item, before the first of their tests.
[[nodiscard]] LedgerHistory history_before(std::span<const record::OrderRecord> orders,
                                           const plan::Level& level);
/// The months of the ledger's trend stand for lots, its runs for specimens. Errors: no such material; several
/// (conditions, methods), which are named; fewer than three months.
[[nodiscard]] Result<LotPrior> history_in_ledger(ledger::Database& ledger, const LedgerHistory& asked);

/// Typical time, and factors exp(standard deviation of ln t) over lots and within one. Errors: not above 0,
/// or a factor not above 1.
[[nodiscard]] Result<LotPrior> stated_history(double typical_s, double between_factor, double within_factor);

}  // namespace ebbtide::work
