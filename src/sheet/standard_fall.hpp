#pragma once
// The fall of the RC check standard: its time constant tells the sum of its capacitances.

#include <string>

#include "sheet/inversion.hpp"

namespace ebbtide::sheet {

struct StandardFall {
    std::string reason;                           ///< why there is no time constant; empty where there is one
    double time_constant_s = 0;                   ///< R (C + Cs + Cc)
    double u_relative = 0;                        ///< standard uncertainty of it, all of the following
    double u_noise = 0, u_delay = 0, u_zero = 0;  ///< relative; u_delay by release and lag
    double prompt_drop = 0;  ///< Cc / (C + Cs + Cc), by what the fall lacks of the hold's reading
};

/// One mode behind clamps that take their time and a sensor that lags, after a hold as long as it was
/// (SeenFall). A resistor that depends on its voltage makes no exponential: at 2 ppm/V the time constant of a
/// fall from 5 kV is wrong by 0.5 %, which is no part of u. Pure.
[[nodiscard]] StandardFall standard_fall(const SeenFall& fall);

}  // namespace ebbtide::sheet
