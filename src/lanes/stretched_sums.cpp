#include "lanes/stretched_sums.hpp"

#include <algorithm>

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "lanes/stretched_sums.cpp"
#include <hwy/foreach_target.h>
#include <hwy/highway.h>

#include "lanes/exp_log_inl.hpp"
#include "lanes/four_lanes_inl.hpp"

HWY_BEFORE_NAMESPACE();
namespace ebbtide::lanes::HWY_NAMESPACE {

/// ln t, with a number for t = 0 that is low enough for z to be nothing and high enough for 0 * it to be 0.
HWY_INLINE V log_time(V t) {
    return hn::Max(log_of(Lanes(), t), set(-1e6));
}

struct Stretched {
    V f, by_time, by_exponent, z;
};
HWY_INLINE Stretched stretched_at(V log_t, V log_time_constant, V exponent) {
    const Lanes lanes;
    // Beyond z = 700 nothing is left of f, below e^-700 nothing of z.
    const V log_z =
        hn::Max(hn::Min(hn::Mul(exponent, hn::Sub(log_t, log_time_constant)), set(6.55)), set(-700));
    Stretched out;
    out.z = exp_within(lanes, log_z);
    out.f = exp_within(lanes, hn::Neg(out.z));
    const V steep = hn::Mul(out.z, out.f);
    out.by_time = hn::Mul(exponent, steep);
    out.by_exponent = hn::Neg(hn::Mul(log_z, steep));
    return out;
}

void places_of(const MeanTiers& tiers, double first, StretchedPlaces& out) {
    const Lanes lanes;
    for (std::size_t s = 0; s < tiers.padded; s += hn::Lanes(lanes)) {
        const V block = hn::Load(lanes, &tiers.block[s]), start = hn::Load(lanes, &tiers.start[s]);
        V t = hn::Add(set(first), hn::MulAdd(set(0.5), hn::Sub(block, set(1)), start));
        const V spread = hn::Mul(set(1.0 / 24), hn::MulSub(block, block, set(1)));
        for (std::size_t row = 0; row < MeanTiers::rows; ++row) {
            const std::size_t at = row * tiers.padded + s;
            hn::Store(log_time(t), lanes, &out.log_t[at]);
            const V bend = hn::Div(spread, hn::Mul(t, t));
            hn::Store(hn::IfThenElse(hn::Gt(t, hn::Zero(lanes)), bend, hn::Zero(lanes)), lanes,
                      &out.bend[at]);
            t = hn::Add(t, block);
        }
    }
}

void tier_sums_of(const MeanTiers& tiers, const StretchedPlaces& places, double log_time_constant,
                  double exponent, TierSums& out) {
    const Lanes lanes;
    const V none = hn::Zero(lanes), log_T = set(log_time_constant), b = set(exponent);
    const V b2 = set(exponent * exponent), b_less = set(exponent * (exponent - 1));
    V phi_phi = none, phi_one = none, phi_y = none;
    V phi_t = none, phi_b = none, t_t = none, t_b = none, b_b = none, t_one = none, b_one = none, t_y = none,
      b_y = none;
    for (std::size_t i = 0; i < MeanTiers::rows * tiers.padded; i += hn::Lanes(lanes)) {
        const V weight = hn::Load(lanes, &tiers.weight[i % tiers.padded]),
                y = hn::Load(lanes, &tiers.mean[i]);
        const Stretched at = stretched_at(hn::Load(lanes, &places.log_t[i]), log_T, b);
        // t^2 f'' = f z (b^2 z - b (b - 1))
        const V curvature = hn::Mul(at.z, hn::MulSub(b2, at.z, b_less));
        const V phi = hn::MulAdd(at.f, hn::Mul(curvature, hn::Load(lanes, &places.bend[i])), at.f);
        const V wp = hn::Mul(weight, phi), wt = hn::Mul(weight, at.by_time),
                wb = hn::Mul(weight, at.by_exponent);
        phi_phi = hn::MulAdd(wp, phi, phi_phi);
        phi_one = hn::Add(phi_one, wp);
        phi_y = hn::MulAdd(wp, y, phi_y);
        phi_t = hn::MulAdd(wp, at.by_time, phi_t);
        phi_b = hn::MulAdd(wp, at.by_exponent, phi_b);
        t_t = hn::MulAdd(wt, at.by_time, t_t);
        t_b = hn::MulAdd(wt, at.by_exponent, t_b);
        b_b = hn::MulAdd(wb, at.by_exponent, b_b);
        t_one = hn::Add(t_one, wt);
        b_one = hn::Add(b_one, wb);
        t_y = hn::MulAdd(wt, y, t_y);
        b_y = hn::MulAdd(wb, y, b_y);
    }
    out.phi_phi[0][0] = total(phi_phi);
    out.phi_one[0] = total(phi_one);
    out.phi_y[0] = total(phi_y);
    out.phi_d[0][0] = total(phi_t);
    out.phi_d[0][1] = total(phi_b);
    out.d_d[0][0] = total(t_t);
    out.d_d[0][1] = out.d_d[1][0] = total(t_b);
    out.d_d[1][1] = total(b_b);
    out.d_one[0] = total(t_one);
    out.d_one[1] = total(b_one);
    out.d_y[0] = total(t_y);
    out.d_y[1] = total(b_y);
}

void log_times_of(double first, double* out, std::size_t count) {
    const Lanes lanes;
    const std::size_t width = hn::Lanes(lanes);
    V t = hn::Add(set(first), hn::Iota(lanes, 0));
    std::size_t i = 0;
    for (; i + width <= count; i += width, t = hn::Add(t, set(static_cast<double>(width))))
        hn::StoreU(log_time(t), lanes, out + i);
    HWY_ALIGN std::array<double, 4> rest;
    hn::Store(log_time(t), lanes, rest.data());
    for (std::size_t k = 0; i + k < count; ++k) out[i + k] = rest[k];
}

void residuals_of(const double* y, const double* log_t, std::size_t count, const StretchedSum& sum,
                  StretchedResiduals& out) {
    const Lanes lanes;
    const std::size_t width = hn::Lanes(lanes);
    const V log_T = set(sum.log_time_constant), b = set(sum.exponent);
    const V amplitude = set(sum.amplitude), constant = set(sum.constant);
    V squares = hn::Zero(lanes), plain = squares, with = squares, by_time = squares, by_exponent = squares;
    const auto take = [&](V sample, V there, V log_time) HWY_ATTR {
        const Stretched at = stretched_at(log_time, log_T, b);
        const V left = hn::Mul(there, hn::NegMulAdd(amplitude, at.f, hn::Sub(sample, constant)));
        squares = hn::MulAdd(left, left, squares);
        plain = hn::Add(plain, left);
        with = hn::MulAdd(left, at.f, with);
        by_time = hn::MulAdd(left, at.by_time, by_time);
        by_exponent = hn::MulAdd(left, at.by_exponent, by_exponent);
    };
    std::size_t i = 0;
    for (; i + width <= count; i += width) take(hn::LoadU(lanes, y + i), set(1), hn::LoadU(lanes, log_t + i));
    if (i < count) {
        HWY_ALIGN std::array<double, 4> rest{}, there{}, logs{};
        for (std::size_t k = 0; i + k < count; ++k) {
            rest[k] = y[i + k];
            there[k] = 1;
            logs[k] = log_t[i + k];
        }
        take(hn::Load(lanes, rest.data()), hn::Load(lanes, there.data()), hn::Load(lanes, logs.data()));
    }
    out.squares += total(squares);
    out.plain += total(plain);
    out.with += total(with);
    out.by_time += total(by_time);
    out.by_exponent += total(by_exponent);
}

}  // namespace ebbtide::lanes::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace ebbtide::lanes {

HWY_EXPORT(places_of);
HWY_EXPORT(tier_sums_of);
HWY_EXPORT(log_times_of);
HWY_EXPORT(residuals_of);

void take_places(const MeanTiers& tiers, double first, StretchedPlaces& out) {
    HWY_DYNAMIC_DISPATCH(places_of)(tiers, first, out);
}

TierSums stretched_tier_sums(const MeanTiers& tiers, const StretchedPlaces& places, double log_time_constant,
                             double exponent) {
    TierSums out{};
    HWY_DYNAMIC_DISPATCH(tier_sums_of)(tiers, places, log_time_constant, exponent, out);
    return out;
}

void log_times(double first, std::span<double> out) {
    HWY_DYNAMIC_DISPATCH(log_times_of)(first, out.data(), out.size());
}

StretchedResiduals stretched_residuals(std::span<const double> y, std::span<const double> log_t, double first,
                                       const StretchedSum& sum) {
    StretchedResiduals out;
    if (!log_t.empty()) {
        HWY_DYNAMIC_DISPATCH(residuals_of)(y.data(), log_t.data(), y.size(), sum, out);
        return out;
    }
    constexpr std::size_t stretch = 1024;
    std::array<double, stretch> logs;
    for (std::size_t from = 0; from < y.size(); from += stretch) {
        const auto part = y.subspan(from, std::min(stretch, y.size() - from));
        log_times(first + static_cast<double>(from), {logs.data(), part.size()});
        HWY_DYNAMIC_DISPATCH(residuals_of)(part.data(), logs.data(), part.size(), sum, out);
    }
    return out;
}

}  // namespace ebbtide::lanes
#endif
