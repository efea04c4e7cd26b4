#pragma once
// The clamps' voltage: a sum of exponentials in each of two phases, charging and released.

#include <array>
#include <vector>

#include "sheet/forward.hpp"

namespace ebbtide::sheet {

struct ExponentialPart {
    double amplitude_V = 0;
    double rate_per_s = 0;  ///< at least 0: 0 stays
};

/// Times within a phase count from its start.
struct Phase {
    double start_s = 0;
    double length_s = 0;
    std::vector<ExponentialPart> parts;

    [[nodiscard]] double voltage_V(double t) const;
    [[nodiscard]] double slope_V_s(double t) const;
    /// Integral from the phase's start.
    [[nodiscard]] double integral_V_s(double t) const;
};

/// The charging, which began at minus infinity and is steady where the sheet was held for long; the released.
/// Expects clamps that `simulate` has found to be within their ranges.
[[nodiscard]] std::array<Phase, 2> phases_of(const Clamps& clamps);

}  // namespace ebbtide::sheet
