#include "lanes/decay_sums.hpp"

#include <algorithm>
#include <cmath>

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "lanes/decay_sums.cpp"
#include <hwy/foreach_target.h>
#include <hwy/highway.h>

#include "lanes/exp_log_inl.hpp"
#include "lanes/four_lanes_inl.hpp"

HWY_BEFORE_NAMESPACE();
namespace ebbtide::lanes::HWY_NAMESPACE {

/// Powers are carried from sample to sample within a stretch and begin anew from e^(rate i) at the next:
/// their rounding does not grow with the record.
constexpr std::size_t stretch = 1024;

template <std::size_t parts>
ResidualSums residuals_of(const double* y, std::size_t count, const DecaySum& sum) {
    const Lanes lanes;
    const std::size_t width = hn::Lanes(lanes);
    const V none = hn::Zero(lanes), iota = hn::Iota(lanes, 0), constant = set(sum.constant);
    V rate[parts], amplitude[parts], ratio[parts];
    V squares = none, plain = none, with[parts], with_index[parts];
    // Two vectors a turn, so that a power does not wait for the one before.
    for (std::size_t k = 0; k < parts; ++k) {
        rate[k] = set(sum.rate[k]);
        amplitude[k] = set(sum.amplitude[k]);
        ratio[k] = exp_of(lanes, set(sum.rate[k] * static_cast<double>(2 * width)));
        with[k] = with_index[k] = none;
    }
    const auto take = [&](V sample, V index, const V* power) HWY_ATTR {
        V left = hn::Sub(sample, constant);
        for (std::size_t k = 0; k < parts; ++k) left = hn::NegMulAdd(amplitude[k], power[k], left);
        squares = hn::MulAdd(left, left, squares);
        plain = hn::Add(plain, left);
        const V indexed = hn::Mul(left, index);
        for (std::size_t k = 0; k < parts; ++k) {
            with[k] = hn::MulAdd(left, power[k], with[k]);
            with_index[k] = hn::MulAdd(indexed, power[k], with_index[k]);
        }
    };
    ResidualSums out;
    for (std::size_t first = 0; first < count; first += stretch) {
        const std::size_t end = std::min(first + stretch, count);
        V even[parts], odd[parts];
        V index = hn::Add(set(static_cast<double>(first)), iota);
        for (std::size_t k = 0; k < parts; ++k) {
            even[k] = exp_of(lanes, hn::Mul(rate[k], index));
            odd[k] = exp_of(lanes, hn::Mul(rate[k], hn::Add(index, set(static_cast<double>(width)))));
        }
        std::size_t i = first;
        for (; i + 2 * width <= end; i += 2 * width) {
            take(hn::LoadU(lanes, y + i), index, even);
            const V next = hn::Add(index, set(static_cast<double>(width)));
            take(hn::LoadU(lanes, y + i + width), next, odd);
            for (std::size_t k = 0; k < parts; ++k) {
                even[k] = hn::Mul(even[k], ratio[k]);
                odd[k] = hn::Mul(odd[k], ratio[k]);
            }
            index = hn::Add(next, set(static_cast<double>(width)));
        }
        for (; i < end; ++i) {
            const auto position = static_cast<double>(i);
            double left = y[i] - sum.constant;
            double power[parts];
            for (std::size_t k = 0; k < parts; ++k) {
                power[k] = hn::GetLane(exp_of(lanes, set(sum.rate[k] * position)));
                left -= sum.amplitude[k] * power[k];
            }
            out.squares += left * left;
            out.plain += left;
            for (std::size_t k = 0; k < parts; ++k) {
                out.with[k] += left * power[k];
                out.with_index[k] += left * position * power[k];
            }
        }
    }
    out.squares += total(squares);
    out.plain += total(plain);
    for (std::size_t k = 0; k < parts; ++k) {
        out.with[k] += total(with[k]);
        out.with_index[k] += total(with_index[k]);
    }
    return out;
}

/// sum of e^(s i) and of i e^(s i) over i < count, s < 0, for some s at once.
struct PowerSums {
    V plain, with_index;
};
HWY_INLINE PowerSums power_sums(V s, double count) {
    const Lanes lanes;
    const V one = set(1), w = exp_of(lanes, s), before_last = exp_of(lanes, hn::Mul(s, set(count - 1)));
    // 1 - e^s, near zero by its series.
    V series = set(1.0 / 5040);
    for (const double term : {720.0, 120.0, 24.0, 6.0, 2.0, 1.0})
        series = hn::MulAdd(series, s, set(1 / term));
    const V gap = hn::IfThenElse(hn::Gt(s, set(-0.02)), hn::Neg(hn::Mul(s, series)), hn::Sub(one, w));
    const V share = hn::Div(one, gap);
    const V beyond = hn::NegMulAdd(before_last, hn::MulAdd(set(count - 1), gap, one), one);
    return {hn::Mul(hn::NegMulAdd(before_last, w, one), share),
            hn::Mul(hn::Mul(w, beyond), hn::Mul(share, share))};
}

/// Takes off the sums, so far of y less the constant, what the exponentials have in them.
template <std::size_t parts>
HWY_INLINE void take_off(const DecaySum& sum, double count, ResidualSums& out) {
    const Lanes lanes;
    // The rates, then their sums two by two.
    constexpr std::size_t size = parts + parts * (parts + 1) / 2, padded = (size + 3) / 4 * 4;
    HWY_ALIGN std::array<double, padded> rate, plain, with_index;
    rate.fill(-1);
    std::size_t place = parts;
    for (std::size_t k = 0; k < parts; ++k) {
        rate[k] = sum.rate[k];
        for (std::size_t l = k; l < parts; ++l) rate[place++] = sum.rate[k] + sum.rate[l];
    }
    for (std::size_t i = 0; i < padded; i += hn::Lanes(lanes)) {
        const PowerSums sums = power_sums(hn::Load(lanes, &rate[i]), count);
        hn::Store(sums.plain, lanes, &plain[i]);
        hn::Store(sums.with_index, lanes, &with_index[i]);
    }
    for (std::size_t k = 0; k < parts; ++k) out.squares -= sum.amplitude[k] * out.with[k];
    place = parts;
    for (std::size_t k = 0; k < parts; ++k) {
        out.plain -= sum.amplitude[k] * plain[k];
        for (std::size_t l = k; l < parts; ++l, ++place) {
            out.with[k] -= sum.amplitude[l] * plain[place];
            out.with_index[k] -= sum.amplitude[l] * with_index[place];
            if (l == k) continue;
            out.with[l] -= sum.amplitude[k] * plain[place];
            out.with_index[l] -= sum.amplitude[k] * with_index[place];
        }
    }
    for (std::size_t k = 0; k < parts; ++k) out.squares -= sum.amplitude[k] * out.with[k];
    out.squares = std::max(0.0, out.squares);
}

/// Horner from the end, in lanes: sample i = (2t + odd) * width + lane.
template <std::size_t parts>
ResidualSums moments_of(const double* y, std::size_t count, const DecaySum& sum) {
    const Lanes lanes;
    const std::size_t width = hn::Lanes(lanes);
    const std::size_t step = 2 * width, turns = count / step;
    const V none = hn::Zero(lanes), constant = set(sum.constant);
    V ratio[parts], even[parts], odd[parts], even_slope[parts], odd_slope[parts];
    for (std::size_t k = 0; k < parts; ++k) {
        ratio[k] = exp_of(lanes, set(sum.rate[k] * static_cast<double>(step)));
        even[k] = odd[k] = even_slope[k] = odd_slope[k] = none;
    }
    V plain = none, squares = none;
    for (std::size_t t = turns; t-- > 0;) {
        const V a = hn::Sub(hn::LoadU(lanes, y + t * step), constant);
        const V b = hn::Sub(hn::LoadU(lanes, y + t * step + width), constant);
        // All that is carried on fits the registers there are.
        plain = hn::Add(plain, hn::Add(a, b));
        squares = hn::Add(squares, hn::MulAdd(a, a, hn::Mul(b, b)));
        for (std::size_t k = 0; k < parts; ++k) {
            even_slope[k] = hn::MulAdd(even_slope[k], ratio[k], even[k]);
            odd_slope[k] = hn::MulAdd(odd_slope[k], ratio[k], odd[k]);
            even[k] = hn::MulAdd(even[k], ratio[k], a);
            odd[k] = hn::MulAdd(odd[k], ratio[k], b);
        }
    }
    ResidualSums out;
    out.plain = total(plain);
    out.squares = total(squares);
    const V lane = hn::Iota(lanes, 0), next = hn::Iota(lanes, static_cast<double>(width));
    for (std::size_t k = 0; k < parts; ++k) {
        const V rate = set(sum.rate[k]);
        const V a = exp_of(lanes, hn::Mul(rate, lane)), b = exp_of(lanes, hn::Mul(rate, next));
        const V with_a = hn::Mul(a, even[k]), with_b = hn::Mul(b, odd[k]);
        const V turned = hn::Mul(ratio[k], set(static_cast<double>(step)));
        out.with[k] = total(hn::Add(with_a, with_b));
        out.with_index[k] =
            total(hn::Add(hn::MulAdd(lane, with_a, hn::Mul(turned, hn::Mul(a, even_slope[k]))),
                          hn::MulAdd(next, with_b, hn::Mul(turned, hn::Mul(b, odd_slope[k])))));
    }
    for (std::size_t i = turns * step; i < count; ++i) {
        const auto position = static_cast<double>(i);
        const double seen = y[i] - sum.constant;
        out.plain += seen;
        out.squares += seen * seen;
        for (std::size_t k = 0; k < parts; ++k) {
            const double by = seen * std::exp(sum.rate[k] * position);
            out.with[k] += by;
            out.with_index[k] += by * position;
        }
    }
    take_off<parts>(sum, static_cast<double>(count), out);
    return out;
}

void moments(const double* y, std::size_t count, const DecaySum& sum, ResidualSums& out) {
    if (sum.parts == 1) out = moments_of<1>(y, count, sum);
    if (sum.parts == 2) out = moments_of<2>(y, count, sum);
    if (sum.parts == 3) out = moments_of<3>(y, count, sum);
}

void residuals(const double* y, std::size_t count, const DecaySum& sum, ResidualSums& out) {
    if (sum.parts == 1) out = residuals_of<1>(y, count, sum);
    if (sum.parts == 2) out = residuals_of<2>(y, count, sum);
    if (sum.parts == 3) out = residuals_of<3>(y, count, sum);
}

}  // namespace ebbtide::lanes::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace ebbtide::lanes {

HWY_EXPORT(moments);
HWY_EXPORT(residuals);

ResidualSums residual_moments(std::span<const double> y, const DecaySum& sum) {
    ResidualSums out;
    HWY_DYNAMIC_DISPATCH(moments)(y.data(), y.size(), sum, out);
    return out;
}

ResidualSums residual_sums(std::span<const double> y, const DecaySum& sum) {
    ResidualSums out;
    HWY_DYNAMIC_DISPATCH(residuals)(y.data(), y.size(), sum, out);
    return out;
}

}  // namespace ebbtide::lanes
#endif
