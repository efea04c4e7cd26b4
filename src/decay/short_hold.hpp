#pragma once
// A specimen that was charged for so short a time that the charging still went on when the clamps were
// earthed.

#include "fit/law.hpp"

namespace ebbtide::decay {

/// Charged for `hold_s` only, from uncharged: phi(t) - phi(t + hold). In a linear sheet this is
/// superposition: a charging that goes on for ever, and one of the other sign from the release on. It holds
/// of what a sensor shows as well as of the law itself, the sensor's own state at the release included, so
/// wrap what is already seen through the sensor (which must have shown nothing before the charging). Offsets
/// are not part of phi: wrap the law before it gets one.
[[nodiscard]] fit::Law after_short_hold(fit::Law law, double hold_s);

}  // namespace ebbtide::decay
