#pragma once
// What a field sensor averages of a sheet whose potential is known: a weight over the sheet.

#include <Eigen/Dense>
#include <vector>

namespace ebbtide::sheet {

/// A round opening in an earthed face that is parallel to the sheet and opposite its middle. What the sensor
/// measures with lies in the plane of the face; it averages the field over the opening.
struct FaceView {
    double distance_m = 0;  ///< face to sheet; used from a thousandth of the gap
    double aperture_m = 0;  ///< diameter of the opening, at least 0
};

/// How much of a middle part, `view_m` wide, each strip makes up: they sum to 1. A point takes the cubic
/// through the four strips in the middle, the one there is where their count is odd. `edge_m` from 0,
/// ascending.
[[nodiscard]] Eigen::VectorXd view_over(const std::vector<double>& edge_m, double view_m);

/// Share of the reading that a band from x to x, counted from the middle, makes when everything in its plane
/// has one potential; of infinitely many bands side by side they sum to 1. Between face and plane Laplace's
/// equation gives a point of the face pi / (4 h) sech^2(pi x / 2 h) (any text on conformal maps), the opening
/// its mean over chords.
[[nodiscard]] double share_of_band(double from_m, double to_m, const FaceView& view);

/// Shares of strips, over what the whole sheet makes.
[[nodiscard]] Eigen::VectorXd view_from(const std::vector<double>& edge_m, const FaceView& view);

/// Weight of a place at this distance from the axis of the opening, for each square metre: over the whole
/// plane it sums to 1. Images of a double layer in both planes, to 1e-6 of what it is on the axis.
[[nodiscard]] double weight_per_m2(double off_axis_m, const FaceView& view);

/// Shares of cells [along the gap, along the clamps], over what the whole sheet makes; edges from 0,
/// ascending. The axis goes through the middle of both. Some 50 ms.
[[nodiscard]] Eigen::MatrixXd view_from(const std::vector<double>& along_m,
                                        const std::vector<double>& across_m, const FaceView& view);

}  // namespace ebbtide::sheet
