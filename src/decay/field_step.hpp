#pragma once
// Runs that a step of a field electrode starts: there is no hold, and the electrode stays up.

#include <optional>

#include "decay/release.hpp"
#include "decay/run_phases.hpp"

namespace ebbtide::decay {

/// When the field stepped: the half height of `field`, the recorded voltage of the field electrode, where it
/// shows a step; else the half height of the specimen's own rise. Absent when the record starts after it.
/// u: the sample interval over root twelve, with the skew between the channels.
[[nodiscard]] std::optional<Release> find_field_step(const RunTrace& run, const RunPhases& phases,
                                                     const std::optional<trace::Samples>& field,
                                                     const std::optional<plan::Bench>& bench);

/// Index of the first specimen sample that is, within three deviations of the noise, as high as the run gets:
/// the fall is what follows.
[[nodiscard]] std::size_t peak_of(const RunTrace& run, const RunPhases& phases, double step_s);

/// Height of the field electrode's step with its sign, in volts; absent where `field` shows none.
[[nodiscard]] std::optional<double> field_height_V(const RunTrace& run, const RunPhases& phases,
                                                   const trace::Samples& field);

}  // namespace ebbtide::decay
