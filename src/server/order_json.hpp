#pragma once
// Pieces of answers that several handlers share: docs/formats/page.md.

#include <nlohmann/json.hpp>

#include "judge/judgement.hpp"
#include "report/report.hpp"
#include "work/order_at_hand.hpp"

namespace ebbtide::server {

/// `specimen`, `face`, `conditions`, `polarity`, `replicate`, `label`.
[[nodiscard]] nlohmann::json key_json(const plan::RunKey& key);
[[nodiscard]] nlohmann::json place_json(const work::OrderPlace& place, bool live);
/// A level, and where it was crossed.
[[nodiscard]] nlohmann::json crossing_json(const decay::LevelFigure& level);
/// A trace of at most so many points.
[[nodiscard]] nlohmann::json trace_json(const std::string& run, const report::PlotTrace& trace,
                                        std::size_t points);
[[nodiscard]] nlohmann::json date_json(const std::optional<Date>& date);
[[nodiscard]] nlohmann::json instant_json(const std::optional<Instant>& instant);

}  // namespace ebbtide::server
