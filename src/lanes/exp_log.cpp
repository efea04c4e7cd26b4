#include "lanes/exp_log.hpp"

#include <array>
#include <cstddef>

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "lanes/exp_log.cpp"
#include <hwy/foreach_target.h>
#include <hwy/highway.h>

#include "lanes/exp_log_inl.hpp"

HWY_BEFORE_NAMESPACE();
namespace ebbtide::lanes::HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;
using Lanes = hn::CappedTag<double, 8>;

/// `f` of every number; the last ones, too few for a vector, go through a padded copy.
template <class F>
HWY_INLINE void for_all(const double* numbers, double* out, std::size_t count, F f) {
    const Lanes lanes;
    const std::size_t width = hn::Lanes(lanes);
    std::size_t i = 0;
    for (; i + width <= count; i += width) hn::StoreU(f(hn::LoadU(lanes, numbers + i)), lanes, out + i);
    if (i == count) return;
    HWY_ALIGN std::array<double, 8> rest{};
    for (std::size_t k = i; k < count; ++k) rest[k - i] = numbers[k];
    hn::Store(f(hn::Load(lanes, rest.data())), lanes, rest.data());
    for (std::size_t k = i; k < count; ++k) out[k] = rest[k - i];
}

void exps(const double* numbers, double* out, std::size_t count) {
    for_all(numbers, out, count, [](hn::Vec<Lanes> v) HWY_ATTR { return exp_of(Lanes(), v); });
}

void logs(const double* numbers, double* out, std::size_t count) {
    for_all(numbers, out, count, [](hn::Vec<Lanes> v) HWY_ATTR { return log_of(Lanes(), v); });
}

}  // namespace ebbtide::lanes::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace ebbtide::lanes {

HWY_EXPORT(exps);
HWY_EXPORT(logs);

void exp_all(std::span<const double> numbers, std::span<double> out) {
    HWY_DYNAMIC_DISPATCH(exps)(numbers.data(), out.data(), numbers.size());
}

void log_all(std::span<const double> numbers, std::span<double> out) {
    HWY_DYNAMIC_DISPATCH(logs)(numbers.data(), out.data(), numbers.size());
}

}  // namespace ebbtide::lanes
#endif
