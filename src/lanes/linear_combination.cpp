#include "lanes/linear_combination.hpp"

#include <cstddef>

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "lanes/linear_combination.cpp"
#include <hwy/foreach_target.h>
#include <hwy/highway.h>

HWY_BEFORE_NAMESPACE();
namespace ebbtide::lanes::HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;

/// From `i` on, as far as whole vectors go.
template <class D>
HWY_INLINE std::size_t combine(D d, const double* start, std::span<const double> factors,
                               const double* const* vectors, double* out, std::size_t i, std::size_t count) {
    for (; i + hn::Lanes(d) <= count; i += hn::Lanes(d)) {
        auto sum = start ? hn::LoadU(d, start + i) : hn::Zero(d);
        for (std::size_t j = 0; j < factors.size(); ++j)
            sum = hn::MulAdd(hn::Set(d, factors[j]), hn::LoadU(d, vectors[j] + i), sum);
        hn::StoreU(sum, d, out + i);
    }
    return i;
}

void combine_all(const double* start, std::span<const double> factors, const double* const* vectors,
                 double* out, std::size_t count) {
    const std::size_t rest = combine(hn::CappedTag<double, 8>(), start, factors, vectors, out, 0, count);
    combine(hn::CappedTag<double, 1>(), start, factors, vectors, out, rest, count);
}

}  // namespace ebbtide::lanes::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace ebbtide::lanes {

HWY_EXPORT(combine_all);

void linear_combination(std::span<const double> start, std::span<const double> factors,
                        std::span<const double* const> vectors, std::span<double> out) {
    HWY_DYNAMIC_DISPATCH(combine_all)
    (start.empty() ? nullptr : start.data(), factors, vectors.data(), out.data(), out.size());
}

}  // namespace ebbtide::lanes
#endif
