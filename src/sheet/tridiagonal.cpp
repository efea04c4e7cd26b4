#include "sheet/tridiagonal.hpp"

#include <span>

#include "lanes/four_tridiagonal.hpp"

namespace ebbtide::sheet {
namespace {

using Eigen::Index, Eigen::VectorXd;

template <class Vector>
auto all_of(Vector& v) {
    return std::span(v.data(), static_cast<std::size_t>(v.size()));
}

}  // namespace

void Tridiagonal::factor(const VectorXd& diagonal, const Eigen::Ref<const VectorXd>& coupling,
                         Index systems) {
    const Index count = diagonal.size(), middle = count / 2;
    systems_ = systems;
    pivot_inverse_.resize(count);
    inward_.resize(count);
    if (systems == 4) {
        lanes::factor_four(all_of(diagonal), all_of(coupling), all_of(pivot_inverse_), all_of(inward_));
        sound_ = pivot_inverse_.allFinite() && pivot_inverse_.minCoeff() > 0;
        return;
    }
    double down = 0, up = 0;  // what the rows done so far take off the next pivot
    for (Index i = 0; i < middle; ++i) {
        const Index j = count - 1 - i;
        pivot_inverse_(i) = 1 / (diagonal(i) - down);
        inward_(i) = coupling(i) * pivot_inverse_(i);
        down = coupling(i) * inward_(i);
        if (j == middle) continue;
        pivot_inverse_(j) = 1 / (diagonal(j) - up);
        inward_(j) = coupling(j - 1) * pivot_inverse_(j);
        up = coupling(j - 1) * inward_(j);
    }
    pivot_inverse_(middle) = 1 / (diagonal(middle) - down - up);
    inward_(middle) = 0;
    sound_ = pivot_inverse_.allFinite() && pivot_inverse_.minCoeff() > 0;
}

void Tridiagonal::solve(VectorXd& right_side) const {
    if (systems_ == 4) {
        lanes::solve_four(all_of(pivot_inverse_), all_of(inward_), all_of(right_side));
        return;
    }
    const Index count = right_side.size(), middle = count / 2, below = count - 1 - middle;
    double* const r = right_side.data();
    const double *const l = inward_.data(), *const p = pivot_inverse_.data();
    double down = 0, up = 0;
    for (Index i = 0; i < below; ++i) {
        const Index j = count - 1 - i;
        down = l[i] * (r[i] += down);
        up = l[j] * (r[j] += up);
    }
    if (below < middle) down = l[below] * (r[below] += down);
    double left = (r[middle] + down + up) * p[middle], right = left;
    r[middle] = left;
    if (below < middle) r[below] = left = r[below] * p[below] + l[below] * left;
    for (Index i = below; i-- > 0;) {
        const Index j = count - 1 - i;
        r[i] = left = r[i] * p[i] + l[i] * left;
        r[j] = right = r[j] * p[j] + l[j] * right;
    }
}

}  // namespace ebbtide::sheet
