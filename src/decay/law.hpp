#pragma once
// The laws that a decaying voltage may follow, for the engine in fit/. Time counts from the release, in
// seconds.

#include <optional>
#include <vector>

#include "decay/law_kind.hpp"
#include "fit/law.hpp"
#include "sheet/modes.hpp"

namespace ebbtide::decay {

/// How a curve was come by, where that changes its shape. All known, none fitted.
struct Circumstances {
    double lag_s = 0;  ///< time constant of a first-order sensor through which it is seen; 0: none
    /// With a lag: what the sensor shows of a full charge while it is held, over what the law starts from: 1,
    /// or 1 / (1 - induced fraction) where the sensor sees the electrodes too.
    double start_ratio = 1;
    /// Charged for so long only, from uncharged, above 0: v(t) = r(t) - r(t + hold), seen by a sensor that
    /// had shown nothing before. The amplitude is then that of a full charge.
    std::optional<double> hold_s = {};
    std::optional<sheet::Modes> modes = {};  ///< of the fixture; without them there is no hanging_sheet
};

/// Those that can be fitted under these circumstances.
[[nodiscard]] std::vector<LawKind> law_kinds_under(const Circumstances& circumstances);

/// Parameters: amplitude_V, time_constant_s (amplitude_1_V, time_constant_1_s ... with time constants
/// ascending), exponent (stretched), power, offset_V. `kind` is one of law_kinds_under(circumstances).
/// Under a lag and for sheets the law is for t >= 0 only.
[[nodiscard]] fit::Law law_of(LawKind kind, const Offset& offset, const Circumstances& circumstances = {});

}  // namespace ebbtide::decay
