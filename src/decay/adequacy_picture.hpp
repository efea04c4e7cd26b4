#pragma once
// The question of adequacy as a linear picture: what of a fit's residuals its own parameters could take up,
// what a free curve could, and what noise of a memory leaves.

#include <Eigen/Core>
#include <optional>
#include <vector>

#include "fit/fit.hpp"

namespace ebbtide::decay {

using Rows = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>;

/// The linear picture of the question: residual = parameters a little different + free curve + noise. A row
/// is the mean of some neighbours by ascending x, each divided by its sigma.
struct Picture {
    std::vector<double> x;     ///< of a row
    std::vector<double> span;  ///< from its first sample to its last
    std::vector<double> samples;
    Rows columns;  ///< [law by its parameters | free curve by its knots | residual]
    Eigen::Index of_law = 0;
    double floor = 0;  ///< standard deviation of a row that the recorder's step, or rounding, explains
};

/// Of a converged fit to points by ascending x. Nothing when there are too few of them for its columns, or
/// the law has no number there.
[[nodiscard]] std::optional<Picture> picture_of(const fit::Law& law, const fit::Fit& fit,
                                                const fit::Curve& curve);

/// Memory of noise whose samples have variance 1.
struct Memory {
    double share = 0;        ///< of the variance that is band-limited
    double correlation = 0;  ///< unit of x
};

struct Whitened {
    Rows rows;
    double log_determinant = 0;  ///< of the covariance of the rows
    double row_variance = 0;     ///< their mean variance
};

/// Rows of such noise turned into independent ones of variance 1 by the Kalman filter. Its state is the
/// band-limited part over its own standard deviation; variances of rows and covariances of neighbouring rows
/// are exact.
[[nodiscard]] Whitened whiten(const Picture& picture, const Memory& memory);

/// The residual taken apart by the columns before it.
struct Reduced {
    Eigen::MatrixXd basis;      ///< of the columns, orthonormal, each less those before it
    Eigen::VectorXd length;     ///< of each beside those before it
    Eigen::VectorXd along;      ///< the residual's part along each
    Eigen::VectorXd after_law;  ///< residual less the law's columns
    double rss_law = 0, rss_free = 0;
};

/// Rows as in Picture::columns; the first `of_law` columns are the law's.
[[nodiscard]] Reduced reduce(const Rows& rows, Eigen::Index of_law);

}  // namespace ebbtide::decay
