#pragma once
// A law as the engine sees it: y(x) = sum over j of amplitude_j * phi_j(x; theta) + constant. The amplitudes
// enter linearly and are solved for exactly; the shape parameters theta are searched for on a log scale, so
// they are positive. A law knows x only as a ratio to a shape parameter, for the engine counts x in a unit of
// its own; a law that holds lengths along x says so (`keeps_x`).

#include <Eigen/Core>
#include <functional>
#include <span>
#include <string>
#include <vector>

namespace ebbtide::fit {

/// A shape parameter and where it may lie.
struct ShapeParameter {
    std::string name;
    bool scales_with_x = true;  ///< has the unit of x; its range then comes from the samples
    /// Without the unit of x: where starts are sought, and the bounds of the search. With it, only `lowest`
    /// counts, where the range that the samples leave goes below it.
    double grid_low = 0, grid_high = 0;
    double lowest = 0, highest = 0;
};

/// d phi_column / d log theta_parameter is not zero everywhere; it has a column of its own in `slopes`.
struct Slope {
    std::size_t column = 0;
    std::size_t parameter = 0;
};

using Block = Eigen::Ref<Eigen::MatrixXd, 0, Eigen::OuterStride<>>;

/// The rows of column `k`.
[[nodiscard]] inline std::span<double> column_of(Block& block, std::size_t k) {
    return {block.col(static_cast<Eigen::Index>(k)).data(), static_cast<std::size_t>(block.rows())};
}

/// Shapes for which the engine has a way of its own, beside `evaluate`. Whoever wraps or changes `evaluate`
/// sets it back to `other`.
enum class Form {
    other,
    exponentials,  ///< phi_k = exp(-x / theta_k), and perhaps a last column of ones
    stretched,     ///< phi_0 = exp(-(x / theta_0)^theta_1), and perhaps a last column of ones
};

/// A value: copy it, change it, wrap it.
struct Law {
    std::string name;
    std::vector<ShapeParameter> shape;
    std::vector<std::string> amplitudes;  ///< names, one a column phi_j
    std::vector<Slope> slopes;
    /// Shape parameter k belongs to column k and all of these pairs are alike (exponentials): they are
    /// reported with the shape parameters ascending.
    bool interchangeable = false;
    bool from_zero = false;  ///< defined for x >= 0 only
    bool keeps_x = false;    ///< holds lengths along x (a lag, a hold): the engine leaves x as it is given
    double constant = 0;     ///< stated part of y that is not fitted
    Form form = Form::other;
    /// Writes phi_j(x; theta) to columns(., j), and, unless `slopes` has no columns, the slopes in their
    /// order. Rows of both are x.size(). Must be finite wherever theta lies within its range, or the point is
    /// refused.
    std::function<void(std::span<const double> x, std::span<const double> theta, Block columns, Block slopes)>
        evaluate;

    [[nodiscard]] std::size_t parameter_count() const { return amplitudes.size() + shape.size(); }
};

/// Adds an offset that is fitted: a column of ones. Keeps the form.
[[nodiscard]] Law with_free_offset(Law law, std::string offset_name);

/// y = sum of amplitude_j * (phi_j(x) - 1): the offset is minus the sum of the amplitudes. For laws with
/// phi_j(0) = 1.
[[nodiscard]] Law with_offset_minus_amplitude(Law law);

/// The law's value at every x for these amplitudes and shape parameters, constant included.
[[nodiscard]] std::vector<double> values_of(const Law& law, std::span<const double> amplitudes,
                                            std::span<const double> theta, std::span<const double> x);

}  // namespace ebbtide::fit
