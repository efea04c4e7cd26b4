#pragma once
// The phases of a run that lies whole in memory: quiet before, charge, hold, fall. Finer than the cutter can
// see.

#include <optional>

#include "decay/figures.hpp"
#include "decay/noise.hpp"
#include "decay/plateau.hpp"

namespace ebbtide::decay {

struct RunPhases {
    double lead_end_s =
        0;  ///< the quiet stretch before the charge is [first sample, lead_end_s); empty when starts_charged
    double charge_s = 0;      ///< when the drive channel left its base
    double hold_from_s = 0;   ///< when it had arrived
    double hold_to_s = 0;     ///< certainly still held
    double fall_from_s = 0;   ///< the release is not before this ...
    double fall_to_s = 0;     ///< ... nor after this
    double fall_scale_s = 0;  ///< rough time in which the specimen voltage falls by a factor e
    NoiseModel noise;         ///< of the specimen channel
    double step_s = 0;        ///< median sample interval of the specimen channel
};

/// `has_hold`: the voltage stands still before it falls. Else what lies between rise and fall says nothing of
/// the noise.
[[nodiscard]] RunPhases phases_of(const RunTrace& run, bool has_hold = true);

}  // namespace ebbtide::decay
