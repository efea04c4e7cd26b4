#pragma once
// A sheet hanging between earthed clamps: the exponentials of which its sensed voltage is the sum.

#include <optional>
#include <vector>

namespace ebbtide::sheet {

/// Lengths across a fixture, in metres, all above zero; the fixture is taken to be long beside them.
struct CrossSection {
    double gap_m = 0;               ///< between the clamps
    double clamp_m = 0.025;         ///< length of each clamp along the sheet
    double sensor_distance_m = 0;   ///< sheet to the earthed face of the sensor
    double enclosure_behind_m = 0;  ///< sheet to the earthed wall behind
};

/// v(t) / v(0) = sum of weight_k * exp(-rate_k * t / T1), from the reading just after the release.
struct Modes {
    std::vector<double> rate;     ///< over that of the slowest mode: ascending, the first is 1
    std::vector<double> weight;   ///< of the voltage sensed at the middle; they sum to 1
    double induced_fraction = 0;  ///< reading of the empty fixture over clamp voltage
    double capacitance_F_m2 = 0;  ///< effective c of the slowest mode: T1 = R_s c (gap / pi)^2
};

/// Even modes only (the sensor looks at the middle of an even sheet); long charged, then earthed at once.
/// Nothing for lengths that are not positive and finite.
[[nodiscard]] std::optional<Modes> hanging_modes(const CrossSection& fixture);

}  // namespace ebbtide::sheet
