#pragma once
// The amplitudes solved for, and what is left: variable projection on a triangle.
//
// With the triangle split as [R11 R12 r1; 0 R22 r2; 0 0 r3] behind columns, slopes and y, the amplitudes are
// R11^-1 r1, the projected residual is (r2, r3), and its Jacobian by log theta is -R22 M, where M gathers the
// slopes by amplitude. That is Kaufman's form (BIT 15, 1975, 49-57). It leaves out the term of Golub and
// Pereyra (SIAM J. Numer. Anal. 10, 1973, 413-432) that is of first order in the residual; what remains is
// exactly the Gauss-Newton matrix of all parameters with the amplitudes eliminated, so the same numbers serve
// the covariance, and the gradient is exact in both.

#include <optional>
#include <span>
#include <vector>

#include "fit/triangle.hpp"

namespace ebbtide::fit {

struct Projection {
    bool usable = false;    ///< finite, and the columns are independent
    SmallVector amplitude;  ///< all of them, held ones included
    SmallVector
        residual;    ///< in coordinates in which only its length and its angle to `jacobian` mean anything
    Small jacobian;  ///< d (law, amplitudes following) / d log theta
    Small full_triangle;  ///< of the Jacobian by [free amplitudes | log theta]
    double rss = 0;       ///< weighted, scaled units
    double y_length = 0;  ///< length of the weighted y: what rounding is measured by
};

/// Amplitudes held at a value (scaled units), by column; empty when none is held.
using HeldAmplitudes = std::vector<std::optional<double>>;

[[nodiscard]] Projection project(const Law& law, const Small& triangle, const HeldAmplitudes& held = {});

/// From a triangle of residuals about `about` (Problem::reduce_residual).
[[nodiscard]] Projection project_about(const Law& law, const Small& triangle, const SmallVector& about,
                                       const HeldAmplitudes& held = {});

/// The projected sum of squares alone, from a triangle without slopes; infinite where the columns are not
/// usable.
[[nodiscard]] double projected_rss(const Small& triangle_of_columns);

}  // namespace ebbtide::fit
