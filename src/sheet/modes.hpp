#pragma once
// A sheet hanging between earthed clamps: the exponentials of which its sensed voltage is the sum.

#include <optional>
#include <vector>

namespace ebbtide::sheet {

/// Lengths across a fixture, in metres, above zero where nothing else is said; the fixture is taken to be
/// long beside them. Clamps are flat, at the height of the sheet; sensor face and wall are earthed planes
/// either side of it.
struct CrossSection {
    double gap_m = 0;               ///< between the clamps
    double clamp_m = 0.025;         ///< length of each clamp along the sheet
    double sensor_distance_m = 0;   ///< sheet to the earthed face of the sensor
    double enclosure_behind_m = 0;  ///< sheet to the earthed wall behind
    /// Diameter of the round opening in the sensor's face, opposite the middle of the gap, at least 0 (a
    /// point) and no wider than the gap. The sensor averages the field over it; what it measures with lies in
    /// the plane of the face.
    double aperture_m = 0;
};

/// v(t) / v(0) = sum of weight_k * exp(-rate_k * t / T1), from the reading just after the release.
///
/// The reading is the field at the sensor's face, opposite the middle of the sheet, over its opening. Up to
/// 12 modes; the last carries the weight of all faster ones, so that the weights sum to 1 and the start is
/// right. Against all modes and three times the strips the sum is off by 0.1 % of v(0) for a sensor at a
/// sixth of the gap, 0.4 % at half of it, at its worst near T1/50.
struct Modes {
    std::vector<double> rate;     ///< over that of the slowest mode: ascending, the first is 1
    std::vector<double> weight;   ///< of the reading; they sum to 1
    double induced_fraction = 0;  ///< reading of the empty fixture over clamp voltage: 1 less v(0)
    double capacitance_F_m2 = 0;  ///< effective c of the slowest mode: T1 = R_s c (gap / pi)^2
};

/// Even modes only (the sensor looks at the middle of an even sheet); long charged, then earthed at once. The
/// sheet's surface resistivity is the same everywhere and its clamps make perfect contact.
///
/// Boundary elements: charges on strips of clamp and sheet, whose potential between the two planes is in
/// closed form. T1 to 0.1 %. About 2 ms; up to 0.1 s where a plane is nearer than a fiftieth of the gap.
///
/// Nothing for lengths out of their ranges, a clamp shorter than a 1500th of the gap, or a plane nearer than
/// a 150th of it: such a sheet is a backed one.
[[nodiscard]] std::optional<Modes> hanging_modes(const CrossSection& fixture);

}  // namespace ebbtide::sheet
