#pragma once
// Both sides of the pulse: in a linear sheet the charging curve mirrors the fall. Where it does not, a clamp
// slips or the conduction depends on the field.

#include <optional>
#include <string>

#include "decay/law.hpp"
#include "fit/fit.hpp"

namespace ebbtide::decay {

struct PulseSides {
    double charging_time_s = 0;  ///< time of the slowest part that counts, fitted to the charging side alone
    double falling_time_s = 0;   ///< the same of the fall
    double difference = 0;       ///< (charging - falling) / falling
    double u_difference = 0;
    bool agree = true;  ///< chance alone explains the difference, or it is too small to matter (2 %)
};

/// The charging side: seconds from the moment at which the electrodes got their voltage, volts after zero and
/// sign, up to the release.
///
/// The law of the fall is fitted to both with the same shape and amplitudes of their own, then apart.
/// Nothing where that cannot be judged: fewer than 16 samples on the charging side, a shape that one of the
/// two does not determine, an electrode that needs more than a fiftieth of the fall's time constant to get
/// there (`electrode_rise_s`).
[[nodiscard]] std::optional<PulseSides> compare_sides(LawKind kind, const Offset& offset,
                                                      const Circumstances& circumstances,
                                                      const fit::Curve& fall, const fit::Curve& charging,
                                                      double electrode_rise_s);

}  // namespace ebbtide::decay
