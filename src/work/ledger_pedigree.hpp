#pragma once
// What a figure rests on, from the ledger alone: recording, zero, release, bench and its certificates,
// conditions, people, documents, version, and its link in the chain.

#include <nlohmann/json.hpp>
#include <string>

#include "ledger/database.hpp"
#include "record/order_record.hpp"
#include "work/ledger_figure.hpp"

namespace ebbtide::work {

/// ebbtide.ledger-pedigree/1, docs/formats/ledger.md. `level` as a person writes it ("10 %", "1/e"); empty:
/// all levels of the run. Errors: those of figure_place(); a level that the run was not read at, or asked of
/// something else than a run; a damaged segment.
[[nodiscard]] Result<nlohmann::json> pedigree(ledger::Database& ledger, const FigureName& name,
                                              const std::string& level);

/// The same of a run of an order that no ledger holds: what only a ledger knows (entries, segments, reports,
/// head) is null or empty. Errors: a level that the run was not read at.
[[nodiscard]] Result<nlohmann::json> pedigree_of_run(const record::OrderRecord& record, std::size_t run,
                                                     const std::string& level);

}  // namespace ebbtide::work
