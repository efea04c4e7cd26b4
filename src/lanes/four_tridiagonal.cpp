#include "lanes/four_tridiagonal.hpp"

#include <cstddef>

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "lanes/four_tridiagonal.cpp"
#include <hwy/foreach_target.h>
#include <hwy/highway.h>

#include "lanes/four_lanes_inl.hpp"

HWY_BEFORE_NAMESPACE();
namespace ebbtide::lanes::HWY_NAMESPACE {

/// One vector of the four, `side` of them wide from there on.
HWY_INLINE V row_of(const double* all, std::size_t row) {
    return hn::LoadU(Lanes(), all + 4 * row);
}
HWY_INLINE void put(V v, double* all, std::size_t row) {
    hn::StoreU(v, Lanes(), all + 4 * row);
}

void factor_all(const double* diagonal, const double* coupling, double* pivot_inverse, double* inward,
                std::size_t count) {
    const std::size_t middle = count / 2;
    for (std::size_t side = 0; side < 4; side += hn::Lanes(Lanes())) {
        const double *const D = diagonal + side, *const C = coupling + side;
        double *const p = pivot_inverse + side, *const l = inward + side;
        V down = set(0), up = set(0);  // what the rows done so far take off the next pivot
        for (std::size_t i = 0; i < middle; ++i) {
            const std::size_t j = count - 1 - i;
            const V first = hn::Div(set(1), hn::Sub(row_of(D, i), down));
            const V first_on = hn::Mul(row_of(C, i), first);
            down = hn::Mul(row_of(C, i), first_on);
            put(first, p, i);
            put(first_on, l, i);
            if (j == middle) continue;
            const V last = hn::Div(set(1), hn::Sub(row_of(D, j), up));
            const V last_on = hn::Mul(row_of(C, j - 1), last);
            up = hn::Mul(row_of(C, j - 1), last_on);
            put(last, p, j);
            put(last_on, l, j);
        }
        put(hn::Div(set(1), hn::Sub(hn::Sub(row_of(D, middle), down), up)), p, middle);
        put(set(0), l, middle);
    }
}

void solve_all(const double* pivot_inverse, const double* inward, double* right_side, std::size_t count) {
    const std::size_t middle = count / 2, below = count - 1 - middle;
    for (std::size_t side = 0; side < 4; side += hn::Lanes(Lanes())) {
        const double *const p = pivot_inverse + side, *const l = inward + side;
        double* const r = right_side + side;
        V down = set(0), up = set(0);
        for (std::size_t i = 0; i < below; ++i) {
            const std::size_t j = count - 1 - i;
            const V first = hn::Add(row_of(r, i), down), last = hn::Add(row_of(r, j), up);
            down = hn::Mul(row_of(l, i), first);
            up = hn::Mul(row_of(l, j), last);
            put(first, r, i);
            put(last, r, j);
        }
        if (below < middle) {
            const V first = hn::Add(row_of(r, below), down);
            down = hn::Mul(row_of(l, below), first);
            put(first, r, below);
        }
        V left = hn::Mul(hn::Add(hn::Add(row_of(r, middle), down), up), row_of(p, middle));
        V right = left;
        put(left, r, middle);
        if (below < middle) {
            left = hn::MulAdd(row_of(l, below), left, hn::Mul(row_of(r, below), row_of(p, below)));
            put(left, r, below);
        }
        for (std::size_t i = below; i-- > 0;) {
            const std::size_t j = count - 1 - i;
            left = hn::MulAdd(row_of(l, i), left, hn::Mul(row_of(r, i), row_of(p, i)));
            right = hn::MulAdd(row_of(l, j), right, hn::Mul(row_of(r, j), row_of(p, j)));
            put(left, r, i);
            put(right, r, j);
        }
    }
}

}  // namespace ebbtide::lanes::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace ebbtide::lanes {

HWY_EXPORT(factor_all);
HWY_EXPORT(solve_all);

void factor_four(std::span<const double> diagonal, std::span<const double> coupling,
                 std::span<double> pivot_inverse, std::span<double> inward) {
    HWY_DYNAMIC_DISPATCH(factor_all)
    (diagonal.data(), coupling.data(), pivot_inverse.data(), inward.data(), diagonal.size() / 4);
}

void solve_four(std::span<const double> pivot_inverse, std::span<const double> inward,
                std::span<double> right_side) {
    HWY_DYNAMIC_DISPATCH(solve_all)
    (pivot_inverse.data(), inward.data(), right_side.data(), right_side.size() / 4);
}

}  // namespace ebbtide::lanes
#endif
