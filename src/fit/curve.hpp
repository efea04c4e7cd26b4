#pragma once
// The points that a law is fitted to.

#include <cstddef>
#include <span>
#include <vector>

namespace ebbtide::fit {

/// A view: x ascending or not, evenly spaced or not; all numbers finite; sigma > 0, the standard deviation of
/// each y, absolute or only in proportion (the request says which); empty when all are alike.
struct Curve {
    std::span<const double> x, y, sigma;

    [[nodiscard]] std::size_t size() const { return x.size(); }
};

/// Points that own their numbers.
struct CurveStore {
    std::vector<double> x, y, sigma;
    [[nodiscard]] Curve view() const { return {x, y, sigma}; }
};

/// The same points by ascending x; equal x keep their order.
[[nodiscard]] CurveStore sorted(const Curve& curve);

/// Means over stretches of x that widen in proportion to the distance from the first point, each with the
/// standard deviation of a mean: some tens of points a decade, whatever the number of samples. `curve` by
/// ascending x. A mean differs from the curve at the mean x by its curvature only, at most some 1e-4 of it:
/// good for a search, not for the last digits. Up to 256 points come back as they are.
[[nodiscard]] CurveStore block_means(const Curve& curve);

}  // namespace ebbtide::fit
