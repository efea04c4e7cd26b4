#include "sheet/sensor_view.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <utility>

namespace ebbtide::sheet {
namespace {

using Eigen::Index, Eigen::VectorXd;
using std::numbers::pi;

/// Nodes across an opening: the nearest pole of the field lies a sensor distance off the face.
int nodes_over(double radius_m, double distance_m) {
    return 8 + static_cast<int>(16 * radius_m / distance_m);
}

/// h times the field at the face, so far off a point of 1 V m2 in the plane.
double point_weight_per_m2(double off_m, double h) {
    constexpr int images = 40;
    const double r2 = off_m * off_m;
    double sum = 0;
    for (int m = 0; m < images; ++m) {
        const double z = (2 * m + 1) * h, z2 = z * z, d2 = r2 + z2;
        sum += (2 * z2 - r2) / (d2 * d2 * std::sqrt(d2));
    }
    // The rest as an integral over the images, from half way between two: of the derivative of z / d^3.
    const double z = 2 * images * h, d2 = r2 + z * z;
    sum += z / (d2 * std::sqrt(d2)) / (2 * h);
    return h * sum / pi;  // either side: twice over 2 pi
}

/// Beyond, e^-25 of the weight is left.
double reach_m(const FaceView& view) {
    return 8 * view.distance_m + view.aperture_m;
}

/// W over r, up to where it is gone, on even steps.
class RadialWeight {
  public:
    RadialWeight(const FaceView& view, double farthest_m)
        : step_m_(std::min(reach_m(view), farthest_m) / (points - 4)) {
        for (int i = 0; i < points; ++i) weight_.push_back(weight_per_m2(i * step_m_, view));
    }
    [[nodiscard]] double at(double r_m) const {
        const double place = r_m / step_m_;
        if (place > points - 3) return 0;
        const auto i = std::max(1, static_cast<int>(place));
        const double s = place - i;
        const double* w = &weight_[static_cast<std::size_t>(i)];
        // The cubic through four neighbours (Lagrange).
        return w[-1] * (-s * (s - 1) * (s - 2) / 6) + w[0] * ((s + 1) * (s - 1) * (s - 2) / 2) +
               w[1] * (-(s + 1) * s * (s - 2) / 2) + w[2] * ((s + 1) * s * (s - 1) / 6);
    }

  private:
    static constexpr int points = 400;
    double step_m_;
    std::vector<double> weight_;
};

/// A place that stands for so much of its cell.
struct Node {
    Index cell = 0;
    double at_m = 0, width_m = 0;
};

/// Within reach: Gauss's two points in each cell, or in each part of one that is long beside the distance.
std::vector<Node> nodes_in(const std::vector<double>& edge_m, const FaceView& view) {
    const double middle_m = edge_m.back() / 2, reach = reach_m(view);
    std::vector<Node> out;
    for (std::size_t i = 0; i + 1 < edge_m.size(); ++i) {
        const double length_m = edge_m[i + 1] - edge_m[i];
        if (edge_m[i] > middle_m + reach || edge_m[i + 1] < middle_m - reach) continue;
        const int parts = 1 + static_cast<int>(3 * length_m / view.distance_m);
        for (int k = 0; k < parts; ++k)
            for (const double side : {-1.0, 1.0})
                out.push_back({static_cast<Index>(i),
                               edge_m[i] + length_m * (k + 0.5 + side / std::sqrt(12.0)) / parts,
                               length_m / (2 * parts)});
    }
    return out;
}

}  // namespace

VectorXd view_over(const std::vector<double>& edge_m, double view_m) {
    const auto count = static_cast<Index>(edge_m.size()) - 1;
    VectorXd out = VectorXd::Zero(count);
    if (view_m == 0) {
        const Index right = count / 2;
        if (count % 2 == 1) {
            out(right) = 1;
        } else if (count < 4) {
            out(right - 1) = out(right) = 0.5;
        } else {
            out(right - 2) = out(right + 1) = -1.0 / 16;
            out(right - 1) = out(right) = 9.0 / 16;
        }
        return out;
    }
    const double middle = edge_m.back() / 2, from = middle - view_m / 2, to = middle + view_m / 2;
    for (Index i = 0; i < count; ++i) {
        const auto k = static_cast<std::size_t>(i);
        out(i) = std::max(0.0, std::min(to, edge_m[k + 1]) - std::max(from, edge_m[k])) / view_m;
    }
    return out / out.sum();
}

// A disc's chords are the weight of Chebyshev's second kind.
double share_of_band(double from_m, double to_m, const FaceView& view) {
    const double radius = view.aperture_m / 2, per_m = pi / (2 * view.distance_m);
    const auto of_point = [&](double x) {
        return (std::tanh(per_m * (to_m - x)) - std::tanh(per_m * (from_m - x))) / 2;
    };
    if (radius == 0) return of_point(0);
    const int nodes = nodes_over(radius, view.distance_m);
    double out = 0;
    for (int i = 1; i <= nodes; ++i) {
        const double angle = pi * i / (nodes + 1), chord = std::sin(angle);
        out += 2.0 / (nodes + 1) * chord * chord * of_point(radius * std::cos(angle));
    }
    return out;
}

VectorXd view_from(const std::vector<double>& edge_m, const FaceView& view) {
    const auto count = static_cast<Index>(edge_m.size()) - 1;
    const double middle = edge_m.back() / 2;
    VectorXd out(count);
    for (Index i = 0; i < count; ++i) {
        const auto k = static_cast<std::size_t>(i);
        out(i) = share_of_band(edge_m[k] - middle, edge_m[k + 1] - middle, view);
    }
    return out / out.sum();
}

double weight_per_m2(double off_axis_m, const FaceView& view) {
    const double radius = view.aperture_m / 2;
    if (radius == 0) return point_weight_per_m2(off_axis_m, view.distance_m);
    // Gauss's rule of four points along the radius in panels of half a distance, as many places on each ring.
    constexpr std::array<std::pair<double, double>, 2> gauss{
        {{0.3399810435848563, 0.6521451548625461}, {0.8611363115940526, 0.3478548451374538}}};
    const int panels = 1 + static_cast<int>(2 * radius / view.distance_m),
              places = nodes_over(radius, view.distance_m);
    double out = 0;
    for (int panel = 0; panel < panels; ++panel)
        for (const auto& node : gauss)
            for (const double side : {-1.0, 1.0}) {
                const double part = (panel + 0.5 + 0.5 * side * node.first) / panels, r = radius * part;
                double ring = 0;
                for (int j = 0; j < places; ++j) {
                    const double turn = pi * (j + 0.5) / places;
                    ring += point_weight_per_m2(
                        std::sqrt(off_axis_m * off_axis_m + r * r - 2 * off_axis_m * r * std::cos(turn)),
                        view.distance_m);
                }
                out += node.second / panels * part * ring / places;  // 2 r dr / a^2
            }
    return out;
}

Eigen::MatrixXd view_from(const std::vector<double>& along_m, const std::vector<double>& across_m,
                          const FaceView& view) {
    const double x0 = along_m.back() / 2, y0 = across_m.back() / 2;
    const RadialWeight weight(view, std::hypot(x0, y0));
    const auto rows = static_cast<Index>(along_m.size()) - 1, cols = static_cast<Index>(across_m.size()) - 1;
    Eigen::MatrixXd out = Eigen::MatrixXd::Zero(rows, cols);
    const std::vector<Node> along = nodes_in(along_m, view), across = nodes_in(across_m, view);
    for (const Node& y : across)
        for (const Node& x : along)
            out(x.cell, y.cell) += weight.at(std::hypot(x.at_m - x0, y.at_m - y0)) * x.width_m * y.width_m;
    return out / out.sum();
}

}  // namespace ebbtide::sheet
