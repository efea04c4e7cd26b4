#pragma once
// Both sides of the pulse: in a linear sheet the charging curve mirrors the fall. Where it does not, a clamp
// slips or the conduction depends on the field.

#include <optional>
#include <string>

#include "decay/law_choice.hpp"
#include "decay/law_figures.hpp"

namespace ebbtide::decay {

struct ComparedSides {
    std::optional<PulseSides> sides;
    std::string missing;  ///< why there are none, in words
};

/// The charging side: seconds from the moment at which the electrodes got their voltage, volts after zero and
/// sign, up to the release.
///
/// `falling` is the law as it was fitted to the fall. A linear sheet, charged from empty, then reads end - A
/// r(t) with the same r: end, A and the pace at which r runs are fitted to the charging side, so an induced
/// part or a residual charge do not disturb. The pace is compared: it is determined by few samples, where a
/// second set of time constants would not be. What the fall leaves open of r is carried into `u_difference`
/// parameter by parameter.
///
/// A charging side of another shape - a clamp that slipped between the two - need not have a pace at all.
/// Then r at the fall's own pace must leave more than noise, and more than half a percent of r(0), for the
/// sides to differ.
///
/// Only a reason where that cannot be judged: fewer than 16 samples on the charging side, a law that the fall
/// does not determine, neither a pace nor another shape on the charging side, an electrode that needs more
/// than a fiftieth of the fall's time to get there (`electrode_rise_s`): its own way up would be taken for
/// the specimen's.
[[nodiscard]] ComparedSides compare_sides(const LawModel& falling, const Circumstances& circumstances,
                                          const fit::Curve& fall, const fit::Curve& charging,
                                          double electrode_rise_s);

}  // namespace ebbtide::decay
