#pragma once
// What a simulated bench holds its sheets in: the fixture of the bench file, and what lies behind them.

#include "basis/result.hpp"
#include "plan/bench.hpp"
#include "plan/simulation.hpp"
#include "sheet/map.hpp"

namespace ebbtide::bench {

/// The lengths and the sensor's opening are those that `predict` and `infer` go by. Bad input: one of them is
/// not stated.
[[nodiscard]] Result<sheet::Fixture> fixture_of(const plan::Simulation& simulation,
                                                const plan::Fixture& believed);

/// A view that is stated is a square one. Bad input: a sheet that hangs; a map that does not fit the gap.
[[nodiscard]] Result<sheet::SheetMap> map_of(const plan::SheetMapFile& map, const sheet::Fixture& fixture);

}  // namespace ebbtide::bench
