#pragma once
// A sheet cut across into strips, and what charge on them does: the electrostatics of a fixture, worked out
// once for everything that is conducted in it.

#include <Eigen/Dense>
#include <cstddef>
#include <optional>
#include <variant>
#include <vector>

#include "basis/result.hpp"
#include "sheet/modes.hpp"
#include "sheet/sensor_view.hpp"

namespace ebbtide::sheet {

/// A sheet close to an earthed surface (a gap much less than length / pi), or with a buried conductor.
struct Backing {
    double gap_m = 0;             ///< between the clamps, above 0
    double capacitance_F_m2 = 0;  ///< of the sheet to earth, above 0
    double view_m = 0;            ///< middle part of the sheet that the sensor averages: 0 a point, gap_m all
    double induced_fraction = 0;  ///< of the reading, by the clamps on the sensor: 0 to below 1
    /// The sensor looks from a distance: instead of view_m, weights as that distance and its opening give.
    std::optional<FaceView> face = {};
};

/// Clamps, sensor face and enclosure of a sheet that hangs free, or a sheet with a backing.
using Fixture = std::variant<CrossSection, Backing>;

/// Everything counts for a metre of width across the drawing plane; strips from the left clamp to the right
/// one. A strip's potential is its mean.
struct CutSheet {
    std::vector<double> edge_m;         ///< one more than strips, from 0 to the gap
    Eigen::VectorXd backing_F_m;        ///< each strip's capacitance to earth; empty for a hanging sheet
    Eigen::MatrixXd influence_F_m;      ///< hanging: charges for 1 V on one strip, the rest and the clamps
                                        ///< earthed; symmetric; empty for a backed sheet
    Eigen::VectorXd from_clamps;        ///< potentials of strips without charge for 1 V on the clamps
    Eigen::VectorXd reading_V_per_C_m;  ///< of the sensor for a charge on one strip, clamps earthed
    double induced_fraction = 0;        ///< reading of the empty fixture over clamp voltage
    bool mirrored = false;              ///< the left half of a sheet: nothing flows through its right end

    [[nodiscard]] Eigen::Index strips() const { return from_clamps.size(); }
    [[nodiscard]] bool hangs() const { return backing_F_m.size() == 0; }
    [[nodiscard]] Eigen::VectorXd width_m() const;
    /// Charges of the strips for potentials that are their own, without the clamps' part.
    [[nodiscard]] Eigen::VectorXd charge_of(const Eigen::VectorXd& own_V) const;
};

/// The reading is in volts of the sheet: 1 V when sheet and clamps have been at 1 V for long.
///
/// `strips`: at least 8, even; 0 for 200 equal ones of a backed sheet and for as many as hanging_modes takes
/// (96, narrower toward the clamps; more where a plane is near) of a hanging one. The first mode of a backed
/// sheet is slow by pi^2 / (12 strips^2), 2e-5 for 200. At most 2000, 600 of a hanging one.
///
/// Hanging: 15 ms for 96 strips, the cube of it for more. Bad input: lengths that are not finite and above
/// zero, a view or an opening wider than the gap, an opening
/// of a backed sheet's sensor wider than 20 times its distance, a plane nearer than a 150th of the gap (then
/// the sheet is a backed one), a clamp shorter than a 1500th of it.
[[nodiscard]] Result<CutSheet> cut_sheet(const Fixture& fixture, std::size_t strips = 0);

/// Of a sheet whose right half always does as its left one: that one, whose charges show what both do.
/// Nothing where the halves differ by more than 1e-9, or the sheet is one already.
[[nodiscard]] std::optional<CutSheet> left_half(const CutSheet& sheet);

}  // namespace ebbtide::sheet
