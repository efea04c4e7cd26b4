#pragma once
// What of a fixture the sheet's conduction depends on.

#include <optional>

#include "plan/bench.hpp"
#include "sheet/modes.hpp"
#include "sheet/sensor_view.hpp"

namespace ebbtide::decay {

/// Nothing when gap, sensor distance or enclosure is not stated. Clamps of 25 mm when theirs is not: of 10 to
/// 100 mm it moves the slowest mode by less than 1 % (sheet/modes.hpp at a third of the gap).
[[nodiscard]] std::optional<sheet::CrossSection> cross_section_of(const plan::Fixture& fixture);

/// Of a sensor over a sheet with a backing: how far away, and through which opening. Nothing when the
/// distance is not stated; a point when the opening is not.
[[nodiscard]] std::optional<sheet::FaceView> face_view_of(const plan::Fixture& fixture);

}  // namespace ebbtide::decay
