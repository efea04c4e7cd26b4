#pragma once
// What the commands on sheets say of the sheet they reckon with.

#include <string>
#include <string_view>

#include "work/sheet_of_bench.hpp"

namespace ebbtide::cli {

/// "hanging" for a backed sheet and the other way round.
[[nodiscard]] std::string_view other_operator(work::SheetOperator used);

/// "capacitance calibrated", "capacitance by lengths, not calibrated", ...
[[nodiscard]] std::string capacitance_words(work::CapacitanceSource source);

/// "+28" for a ratio of 1.28.
[[nodiscard]] std::string percent_apart(double ratio);

/// A line or two: operator, capacitance, caution.
[[nodiscard]] std::string sheet_words(work::SheetOperator used, work::CapacitanceSource source,
                                      double u_capacitance, const std::string& caution);

}  // namespace ebbtide::cli
