#pragma once
// A colour profile that says what the red, green and blue of the report's pages are: sRGB.

#include <array>
#include <string>

namespace ebbtide::report {

using Vector3 = std::array<double, 3>;
using Matrix3 = std::array<Vector3, 3>;  ///< rows

/// From linear sRGB to XYZ under D50: the primaries and white of IEC 61966-2-1:1999, adapted by the Bradford
/// matrix as ICC.1:2010 (annex E) has it. White is the ICC's D50 (0.9642, 1, 0.8249).
[[nodiscard]] Matrix3 linear_srgb_to_xyz_d50();
/// The adaptation itself, from D65 to D50.
[[nodiscard]] Matrix3 bradford_d65_to_d50();

/// An ICC display profile, version 4.2: matrix and the curve of IEC 61966-2-1 as a parametric curve. The same
/// bytes every time.
[[nodiscard]] std::string srgb_profile();

}  // namespace ebbtide::report
