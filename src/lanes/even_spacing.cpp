#include "lanes/even_spacing.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "lanes/even_spacing.cpp"
#include <hwy/foreach_target.h>
#include <hwy/highway.h>

#include "lanes/four_lanes_inl.hpp"

HWY_BEFORE_NAMESPACE();
namespace ebbtide::lanes::HWY_NAMESPACE {

/// Sum of the squared distances from first + interval * i.
double distance_from_line(const double* x, std::size_t count, double first, double interval) {
    const Lanes lanes;
    const std::size_t width = hn::Lanes(lanes), turn = 4 * width;
    const auto start_of = [&](std::size_t part)
                              HWY_ATTR { return set(first + interval * static_cast<double>(part * width)); };
    const V start_a = start_of(0), start_b = start_of(1), start_c = start_of(2), start_d = start_of(3);
    const V step = set(interval), turn_on = set(static_cast<double>(turn));
    V index = hn::Iota(lanes, 0), a = hn::Zero(lanes), b = a, c = a, d = a;
    const auto add = [&](const double* at, V start, V& sum) HWY_ATTR {
        const V off = hn::NegMulAdd(index, step, hn::Sub(hn::LoadU(lanes, at), start));
        sum = hn::MulAdd(off, off, sum);
    };
    std::size_t i = 0;
    for (; i + turn <= count; i += turn, index = hn::Add(index, turn_on)) {
        add(x + i, start_a, a);
        add(x + i + width, start_b, b);
        add(x + i + 2 * width, start_c, c);
        add(x + i + 3 * width, start_d, d);
    }
    double sum = total(hn::Add(hn::Add(a, b), hn::Add(c, d)));
    for (; i < count; ++i) {
        const double off = x[i] - first - static_cast<double>(i) * interval;
        sum += off * off;
    }
    return sum;
}

}  // namespace ebbtide::lanes::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace ebbtide::lanes {

HWY_EXPORT(distance_from_line);

bool evenly_spaced(std::span<const double> x) {
    if (x.size() < 2) return false;
    const double interval = (x.back() - x.front()) / static_cast<double>(x.size() - 1);
    const double largest = std::max(std::abs(x.front()), std::abs(x.back()));
    // Squares of these stay numbers.
    if (!(interval > 1e-100) || !(largest < 1e100)) return false;
    const double rounding = std::min(4 * std::numeric_limits<double>::epsilon() * largest, 1e-7 * interval);
    const double off = HWY_DYNAMIC_DISPATCH(distance_from_line)(x.data(), x.size(), x.front(), interval);
    return off <= 1e-18 * interval * interval + rounding * rounding * static_cast<double>(x.size());
}

}  // namespace ebbtide::lanes
#endif
