#pragma once
// What specimens say of their lots, and plans for testing one, as documents for people.

#include <span>
#include <string>

#include "report/document.hpp"
#include "report/lot_statement.hpp"
#include "report/report.hpp"
#include "work/lot_order.hpp"
#include "work/sampling.hpp"

namespace ebbtide::work {

enum class LotDetail { brief, full };  ///< full: with tables of quantiles and bounds

/// A lot as the report shows it.
[[nodiscard]] report::LotStatement statement_of(const OrderLot& lot, LotDetail detail);
/// What an order's own report says of its lots: nothing without a sampling plan, nor of a single specimen.
[[nodiscard]] std::vector<report::LotStatement> lot_statements(const record::OrderRecord& record);

/// One chapter a lot: the claim with why, a probability plot, shares, bounds, what is not proved. `made` is
/// the time that the document states.
[[nodiscard]] report::Document compose(std::span<const OrderLot> lots, Instant made);
/// What the plans accept, with their operating characteristics.
[[nodiscard]] report::Document compose(const Sampling& sampling, Instant made);

/// The document as an HTML page, or as a PDF that carries `json` under `name`, by the ending of `output`.
[[nodiscard]] Result<std::string> written(const report::Document& document, const std::string& output,
                                          const std::string& name, const std::string& json);

}  // namespace ebbtide::work
