#pragma once
// Boundary elements of a sheet between clamps: strips of charge between two earthed planes, all at the height
// of the sheet. Lengths count in gaps, eps0 is 1: nothing overflows, and one fixture is every scale of it.

#include <cmath>
#include <cstddef>
#include <optional>
#include <vector>

#include "sheet/modes.hpp"

namespace ebbtide::sheet {

inline constexpr double vacuum_F_m = 8.8541878128e-12;  // CODATA 2018

/// A strip across the sheet, evenly charged; the middle of the sheet is at 0.
struct Strip {
    double from = 0, to = 0;
    [[nodiscard]] double width() const { return to - from; }
    [[nodiscard]] double centre() const { return (from + to) / 2; }
    [[nodiscard]] Strip mirrored() const { return {-to, -from}; }
    /// Two points whose mean is that of any cubic over the strip (Gauss).
    [[nodiscard]] double gauss(double side) const { return centre() + side * width() / std::sqrt(12.0); }
};

/// What a line charge does between two earthed planes. Both functions are the sums over its images in the
/// planes, in closed form: the strip between the planes mapped on a half plane (any text on conformal maps).
class BetweenPlanes {
  public:
    /// Distances of the planes either side of the sheet, in gaps.
    BetweenPlanes(double to_sensor, double behind);

    /// Mean potential of strip `a` when `b` carries a charge of 1 for each length of it.
    [[nodiscard]] double mean(const Strip& a, const Strip& b) const;

    /// Field at the sensor's face when `b` carries a charge of 1: its mean over a round opening of this
    /// diameter, opposite the middle.
    [[nodiscard]] double field_at_sensor(const Strip& b, double aperture = 0) const;

  private:
    [[nodiscard]] double without_logarithm(double d) const;
    [[nodiscard]] double field_at_face(double x, const Strip& b) const;

    double height_, to_sensor_, nearest_, sine_, cosine_;
};

/// A fixture in gaps, and how finely to cut it.
struct InGaps {
    double to_sensor = 0, behind = 0;
    double clamp = 0;        ///< no longer than what the sheet can tell
    double aperture = 0;     ///< diameter
    std::size_t strips = 0;  ///< of half the sheet: narrower than the nearest plane is far
};

/// Nothing where hanging_modes finds nothing.
[[nodiscard]] std::optional<InGaps> in_gaps(const CrossSection& fixture);

/// Strips of the right half from the middle to the clamp, narrower toward it.
[[nodiscard]] std::vector<Strip> sheet_strips(std::size_t count);

/// Strips of the right clamp, narrower toward both its edges, where charge crowds.
[[nodiscard]] std::vector<Strip> clamp_strips(std::size_t count, double length);

}  // namespace ebbtide::sheet
