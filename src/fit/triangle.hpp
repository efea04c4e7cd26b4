#pragma once
// What the samples say about a law at one shape, in a small triangle.
//
// An orthogonal transformation of the rows of [columns | slopes | y] changes no length and no angle, so the
// triangle of its QR decomposition is as good as all the samples: amplitudes, the projected residual, its
// Jacobian and the covariance all come from these few numbers. Rows are taken in blocks, so memory does not
// grow with the samples.

#include <Eigen/Core>
#include <functional>
#include <span>
#include <vector>

#include "fit/curve.hpp"
#include "fit/law.hpp"

namespace ebbtide::fit {

/// Large enough for every law here: amplitudes + slopes + 1.
using Small = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::ColMajor, 16, 16>;
using SmallVector = Eigen::Matrix<double, Eigen::Dynamic, 1, Eigen::ColMajor, 16, 1>;

/// The samples in units in which x and y are of order one. Scales are powers of two: scaling rounds nothing.
class Problem {
  public:
    /// Views `law` and `curve`; both must outlive it.
    Problem(const Law& law, const Curve& curve);
    /// Other points of the same curve, in the units of `like`.
    Problem(const Problem& like, const Curve& curve);

    /// Upper triangle of [columns | slopes | y], rows divided by sigma. Shape parameters in scaled units.
    /// O(n).
    [[nodiscard]] Small reduce(std::span<const double> theta) const;
    /// Without the slopes: [columns | y].
    [[nodiscard]] Small reduce_columns(std::span<const double> theta) const;
    /// The same from an explicit residual: [columns | slopes | y - columns * amplitude]. The residual keeps
    /// the digits that are lost when y is large against it.
    [[nodiscard]] Small reduce_residual(std::span<const double> theta, const SmallVector& amplitude) const;

    [[nodiscard]] const Law& law() const { return law_; }
    [[nodiscard]] const Curve& curve() const { return curve_; }
    [[nodiscard]] double x_unit() const { return x_unit_; }
    [[nodiscard]] double y_unit() const { return y_unit_; }
    [[nodiscard]] double sigma_unit() const { return sigma_unit_; }

    /// What one block of points is in the least squares: rows [columns | slopes | y], already divided by
    /// sigma. `first` is the index of its first point. The rows may be overwritten.
    using Visit = std::function<void(Block rows, std::size_t first)>;
    void for_each_block(std::span<const double> theta, bool slopes, const Visit& visit) const;

  private:
    const Law& law_;
    Curve curve_;
    double x_unit_ = 1, y_unit_ = 1, sigma_unit_ = 1;
};

/// Shape parameters from their logarithms.
[[nodiscard]] std::vector<double> exponentials_of(const std::vector<double>& logs);

/// Folds the rows of `block` into the triangle by Householder reflections; `block` is left as rubbish.
void absorb(Block triangle, Block block);

}  // namespace ebbtide::fit
