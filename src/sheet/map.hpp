#pragma once
// A backed sheet that is not the same everywhere: patches, threads, a seam; charged through its clamps, which
// are then earthed.
//
//     c dV/dt = div( (1/R_s) grad V ) - g V      in both directions of the sheet
//
// A sheet that hangs has no such map: every cell's charge acts on every other, and the dense influence of
// some thousand cells would take gigabytes and minutes where strips take milliseconds. Where its resistivity
// varies along the clamps only on lengths well below the gap, the mean conductance of a strip is what counts,
// and `simulate` has that.

#include <Eigen/Dense>
#include <memory>
#include <optional>
#include <span>

#include "sheet/live_sheet.hpp"

namespace ebbtide::sheet {

/// Cut into equal cells, column-major as Eigen has it: those along the gap next to each other.
struct SheetMap {
    double gap_m = 0;    ///< between the clamps, above 0
    double width_m = 0;  ///< along the clamps, above 0
    /// [along the gap from the left clamp, along the clamps], above 0: at least 4 cells along the gap and one
    /// along the clamps, at most 250,000.
    Eigen::ArrayXXd surface_resistivity_ohm_sq;
    double capacitance_F_m2 = 0;  ///< of the sheet to earth, above 0
    double leak_S_m2 = 0;         ///< to earth, at least 0
    /// The sensor averages the middle, so far along the gap. 0 a point, by a cubic through cells: where they
    /// differ by decades it may lie a quarter outside of their potentials.
    double view_m = 0;
    double view_across_m = 0;           ///< and so far along the clamps
    std::optional<FaceView> face = {};  ///< instead of both: it looks from a distance
    double induced_fraction = 0;        ///< of the reading, by the clamps on the sensor: 0 to below 1
    bool framed = false;  ///< clamped at its sides too, without contact resistance; else nothing flows there
};

/// As `simulate` of a sheet that is alike along its clamps; charges are means for a metre of width. Profiles
/// hold every cell.
///
/// Cells conduct to their neighbours as two halves in a row do: harmonic means, right for patches that end at
/// cells' faces. By steps, as forward.hpp says, each with a sparse Cholesky factor: some 4 ms a step for
/// 4,000 cells, 60 steps for a tolerance of 1e-5. Charge is conserved to 1e-9. The error of cells falls with
/// the square of their size.
///
/// Bad input: any figure outside its range. Internal: steps that find no size small enough.
[[nodiscard]] Result<Course> simulate(const SheetMap& map, const Clamps& clamps,
                                      std::span<const double> times_s, const Options& options = {});

/// As `hang_sheet` (live_sheet.hpp); `start` has the potential of every cell.
[[nodiscard]] Result<std::unique_ptr<LiveSheet>> hang_map(const SheetMap& map, const Contacts& contacts,
                                                          const Charged& start);
[[nodiscard]] Charged evenly_charged(const SheetMap& map, double reading_V);

}  // namespace ebbtide::sheet
