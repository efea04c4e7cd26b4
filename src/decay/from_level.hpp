#pragma once
// A decay time that counts from a start level on the fall instead of from the release.

#include "decay/level_figure.hpp"

namespace ebbtide::decay {

/// The time from where the fall passes `c.rules.from`, which must be set, to where it passes
/// `figure.level_V`. `figure` names a level in volts below V0, which is there.
///
/// Release and lag shift both crossings alike and cancel. The noise at the two is independent where they
/// share no samples. Zero, V0 and gain are the same for both: each enters by the difference of its two
/// sensitivities, so that a gain error moves nothing between two voltages of an exponential. Linearity is the
/// sensor's gain at one voltage against that at the other and does not cancel.
///
/// Refused where V0 is not clearly above the start level. A start level passed before the first sample leaves
/// the time from the release as an upper bound.
[[nodiscard]] LevelFigure figure_from_level(LevelFigure figure, const FallContext& c);

}  // namespace ebbtide::decay
