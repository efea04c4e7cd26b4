#include "lanes/field_currents.hpp"

#include <array>
#include <cstddef>

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "lanes/field_currents.cpp"
#include <hwy/foreach_target.h>
#include <hwy/highway.h>

#include "lanes/exp_log_inl.hpp"

HWY_BEFORE_NAMESPACE();
namespace ebbtide::lanes::HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;
using FieldLanes = hn::CappedTag<double, 8>;

HWY_INLINE void field_current(double* across, const double* squared_per_V, const double* conductance,
                              double* slope) {
    const FieldLanes d;
    const auto V = hn::LoadU(d, across);
    const auto root = hn::Sqrt(hn::Mul(hn::Abs(V), hn::LoadU(d, squared_per_V)));
    const auto boosted = hn::Mul(exp_of(d, root), hn::LoadU(d, conductance));
    hn::StoreU(hn::Mul(boosted, V), d, across);
    if (slope) hn::StoreU(hn::Mul(boosted, hn::MulAdd(root, hn::Set(d, 0.5), hn::Set(d, 1))), d, slope);
}

void field_currents_of(double* across, const double* squared_per_V, const double* conductance, double* slope,
                       std::size_t count) {
    const std::size_t width = hn::Lanes(FieldLanes());
    std::size_t i = 0;
    for (; i + width <= count; i += width)
        field_current(across + i, squared_per_V + i, conductance + i, slope ? slope + i : nullptr);
    if (i == count) return;
    // The last ones, too few for a vector, go through a padded copy.
    std::array<double, 8> V{}, squared{}, G{}, s{};
    for (std::size_t k = i; k < count; ++k) {
        V[k - i] = across[k];
        squared[k - i] = squared_per_V[k];
        G[k - i] = conductance[k];
    }
    field_current(V.data(), squared.data(), G.data(), slope ? s.data() : nullptr);
    for (std::size_t k = i; k < count; ++k) {
        across[k] = V[k - i];
        if (slope) slope[k] = s[k - i];
    }
}

}  // namespace ebbtide::lanes::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace ebbtide::lanes {

HWY_EXPORT(field_currents_of);

void field_currents(std::span<double> across, std::span<const double> squared_per_V,
                    std::span<const double> conductance, std::span<double> slope) {
    HWY_DYNAMIC_DISPATCH(field_currents_of)
    (across.data(), squared_per_V.data(), conductance.data(), slope.empty() ? nullptr : slope.data(),
     across.size());
}

}  // namespace ebbtide::lanes
#endif
