#include "lanes/decay_sums.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "lanes/decay_sums.cpp"
#include <hwy/foreach_target.h>
#include <hwy/highway.h>

#include "lanes/exp_log_inl.hpp"

HWY_BEFORE_NAMESPACE();
namespace ebbtide::lanes::HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;
// At most four: sixteen rows of tiers in steps of four leave little to wider vectors.
using Lanes = hn::CappedTag<double, 4>;
using V = hn::Vec<Lanes>;

HWY_INLINE V set(double number) {
    return hn::Set(Lanes(), number);
}
HWY_INLINE double total(V v) {
    return hn::GetLane(hn::SumOfLanes(Lanes(), v));
}

bool all_near_line(const double* x, std::size_t count, double first, double interval, double tolerance) {
    const Lanes lanes;
    const std::size_t width = hn::Lanes(lanes);
    std::size_t i = 0;
    auto index = hn::Iota(lanes, 0);
    auto near = hn::Eq(index, index);
    for (; i + width <= count; i += width) {
        const auto off = hn::Sub(hn::LoadU(lanes, x + i), hn::MulAdd(index, set(interval), set(first)));
        near = hn::And(near, hn::Le(hn::Abs(off), set(tolerance)));
        index = hn::Add(index, set(static_cast<double>(width)));
    }
    if (!hn::AllTrue(lanes, near)) return false;
    for (; i < count; ++i)
        if (!(std::abs(x[i] - (static_cast<double>(i) * interval + first)) <= tolerance)) return false;
    return true;
}

HWY_INLINE double sum_of(const double* y, std::size_t count) {
    const Lanes lanes;
    const std::size_t width = hn::Lanes(lanes);
    std::size_t i = 0;
    double rest = 0;
    if (count >= 2 * width) {
        auto a = hn::Zero(lanes), b = hn::Zero(lanes);
        for (; i + 2 * width <= count; i += 2 * width) {
            a = hn::Add(a, hn::LoadU(lanes, y + i));
            b = hn::Add(b, hn::LoadU(lanes, y + i + width));
        }
        rest = total(hn::Add(a, b));
    }
    for (; i < count; ++i) rest += y[i];
    return rest;
}

void fill_means(const double* y, double less, MeanTiers& out) {
    for (std::size_t s = 0; s < out.tiers; ++s) {
        const auto block = static_cast<std::size_t>(out.block[s]);
        const double* at = y + static_cast<std::size_t>(out.start[s]);
        const double share = 1 / out.block[s];
        for (std::size_t r = 0; r < MeanTiers::rows && out.weight[r * out.padded + s] > 0; ++r, at += block)
            out.mean[r * out.padded + s] = (block == 1 ? *at : share * sum_of(at, block)) - less;
    }
    const Lanes lanes;
    auto sum = hn::Zero(lanes), squares = hn::Zero(lanes);
    for (std::size_t k = 0; k < MeanTiers::rows * out.padded; k += hn::Lanes(lanes)) {
        const auto mean = hn::Load(lanes, &out.mean[k]);
        const auto weighed = hn::Mul(mean, hn::Load(lanes, &out.weight[k]));
        sum = hn::Add(sum, weighed);
        squares = hn::MulAdd(mean, weighed, squares);
    }
    out.sum = total(sum);
    out.squares = total(squares);
}

/// One exponential in some tiers side by side: phi of the first row, the ratio from row to row, and
/// d / phi = at + step * row.
struct Progression {
    V phi, ratio, slope, slope_step;
};

/// With c = rate * (block - 1)/2 in the exponent for the middle of a block, its mean of z^i is
/// e^(rate middle) sinhc(block rate/2) / sinhc(rate/2), sinhc u = sinh u / u, by series: where u is so large
/// that they end too early, e^(rate middle) is nothing.
HWY_INLINE V sinhc(V u2) {
    V p = set(1.0 / 6227020800);
    for (const double c : {1.0 / 39916800, 1.0 / 362880, 1.0 / 5040, 1.0 / 120, 1.0 / 6, 1.0})
        p = hn::MulAdd(p, u2, set(c));
    return p;
}
/// (sinhc u)' / u
HWY_INLINE V sinhc_slope(V u2) {
    V p = set(12.0 / 6227020800);
    for (const double c : {10.0 / 39916800, 8.0 / 362880, 6.0 / 5040, 4.0 / 120, 2.0 / 6})
        p = hn::MulAdd(p, u2, set(c));
    return p;
}

HWY_INLINE Progression progression(const MeanTiers& tiers, std::size_t s, double rate) {
    const Lanes lanes;
    const V start = hn::Load(lanes, &tiers.start[s]), block = hn::Load(lanes, &tiers.block[s]);
    const V r = set(rate);
    const V middle = hn::MulAdd(set(0.5), hn::Sub(block, set(1)), start);
    const V half = set(rate / 2);
    const V u = hn::Mul(half, block);
    const V u2 = hn::Min(hn::Mul(u, u), set(16)), one2 = hn::Min(hn::Mul(half, half), set(16));
    const V wide = sinhc(u2), narrow = sinhc(one2);
    // d ln(sinhc(block rate/2) / sinhc(rate/2)) / d rate
    const V bend = hn::Sub(hn::Div(hn::Mul(hn::Mul(set(0.5), block), hn::Mul(u, sinhc_slope(u2))), wide),
                           hn::Div(hn::Mul(set(0.5), hn::Mul(half, sinhc_slope(one2))), narrow));
    Progression out;
    out.phi = hn::Mul(exp_of(lanes, hn::Mul(r, middle)), hn::Div(wide, narrow));
    out.ratio = exp_of(lanes, hn::Mul(r, block));
    out.slope = hn::Neg(hn::Mul(r, hn::Add(middle, bend)));
    out.slope_step = hn::Neg(hn::Mul(r, block));
    return out;
}

template <std::size_t parts>
void sums_of(const MeanTiers& tiers, const double* rates, TierSums& out) {
    const Lanes lanes;
    const V none = hn::Zero(lanes);
    V phi_phi[parts][parts], phi_d[parts][parts], d_d[parts][parts];
    V phi_one[parts], d_one[parts], phi_y[parts], d_y[parts];
    for (std::size_t k = 0; k < parts; ++k) {
        phi_one[k] = d_one[k] = phi_y[k] = d_y[k] = none;
        for (std::size_t l = 0; l < parts; ++l) phi_phi[k][l] = phi_d[k][l] = d_d[k][l] = none;
    }
    for (std::size_t s = 0; s < tiers.padded; s += hn::Lanes(lanes)) {
        V phi[parts], slope[parts], ratio[parts], step[parts];
        for (std::size_t k = 0; k < parts; ++k) {
            const Progression at = progression(tiers, s, rates[k]);
            phi[k] = at.phi;
            ratio[k] = at.ratio;
            slope[k] = at.slope;
            step[k] = at.slope_step;
        }
        for (std::size_t row = 0; row < MeanTiers::rows; ++row) {
            const V weight = hn::Load(lanes, &tiers.weight[row * tiers.padded + s]);
            const V y = hn::Load(lanes, &tiers.mean[row * tiers.padded + s]);
            V d[parts];
            for (std::size_t k = 0; k < parts; ++k) d[k] = hn::Mul(phi[k], slope[k]);
            for (std::size_t k = 0; k < parts; ++k) {
                const V wp = hn::Mul(weight, phi[k]), wd = hn::Mul(weight, d[k]);
                phi_one[k] = hn::Add(phi_one[k], wp);
                d_one[k] = hn::Add(d_one[k], wd);
                phi_y[k] = hn::MulAdd(wp, y, phi_y[k]);
                d_y[k] = hn::MulAdd(wd, y, d_y[k]);
                for (std::size_t l = 0; l < parts; ++l) {
                    phi_d[k][l] = hn::MulAdd(wp, d[l], phi_d[k][l]);
                    if (l < k) continue;
                    phi_phi[k][l] = hn::MulAdd(wp, phi[l], phi_phi[k][l]);
                    d_d[k][l] = hn::MulAdd(wd, d[l], d_d[k][l]);
                }
            }
            for (std::size_t k = 0; k < parts; ++k) {
                phi[k] = hn::Mul(phi[k], ratio[k]);
                slope[k] = hn::Add(slope[k], step[k]);
            }
        }
    }
    for (std::size_t k = 0; k < parts; ++k) {
        out.phi_one[k] = total(phi_one[k]);
        out.d_one[k] = total(d_one[k]);
        out.phi_y[k] = total(phi_y[k]);
        out.d_y[k] = total(d_y[k]);
        for (std::size_t l = 0; l < parts; ++l) {
            out.phi_d[k][l] = total(phi_d[k][l]);
            if (l < k) continue;
            out.phi_phi[k][l] = out.phi_phi[l][k] = total(phi_phi[k][l]);
            out.d_d[k][l] = out.d_d[l][k] = total(d_d[k][l]);
        }
    }
}

void sums(const MeanTiers& tiers, const double* rates, std::size_t parts, TierSums& out) {
    if (parts == 1) sums_of<1>(tiers, rates, out);
    if (parts == 2) sums_of<2>(tiers, rates, out);
    if (parts == 3) sums_of<3>(tiers, rates, out);
}

void products(const MeanTiers& tiers, const double* rates, std::size_t count, double* products_out,
              double* with_one, double* with_y) {
    constexpr std::size_t most_rates = 32;
    constexpr std::size_t chunk = MeanTiers::rows * 8;  // two tiers' vectors: the columns stay near
    const Lanes lanes;
    const std::size_t width = hn::Lanes(lanes);
    HWY_ALIGN std::array<double, most_rates * chunk> columns;
    for (std::size_t g = 0; g < count; ++g) {
        with_one[g] = with_y[g] = 0;
        for (std::size_t h = g; h < count; ++h) products_out[g * count + h] = 0;
    }
    HWY_ALIGN std::array<double, chunk> weight, y;
    for (std::size_t from = 0; from < tiers.padded; from += 8) {
        const std::size_t to = std::min(from + 8, tiers.padded);
        std::size_t length = 0;
        for (std::size_t s = from; s < to; s += width)
            for (std::size_t row = 0; row < MeanTiers::rows; ++row, length += width) {
                hn::Store(hn::Load(lanes, &tiers.weight[row * tiers.padded + s]), lanes, &weight[length]);
                hn::Store(hn::Load(lanes, &tiers.mean[row * tiers.padded + s]), lanes, &y[length]);
            }
        for (std::size_t g = 0; g < count; ++g) {
            double* const column = &columns[g * chunk];
            std::size_t at = 0;
            for (std::size_t s = from; s < to; s += width) {
                const Progression p = progression(tiers, s, rates[g]);
                V phi = p.phi;
                for (std::size_t row = 0; row < MeanTiers::rows; ++row, at += width) {
                    hn::Store(phi, lanes, column + at);
                    phi = hn::Mul(phi, p.ratio);
                }
            }
        }
        for (std::size_t g = 0; g < count; ++g) {
            HWY_ALIGN std::array<double, chunk> weighed;
            V one = hn::Zero(lanes), by_y = hn::Zero(lanes);
            for (std::size_t i = 0; i < length; i += width) {
                const V wp = hn::Mul(hn::Load(lanes, &columns[g * chunk + i]), hn::Load(lanes, &weight[i]));
                hn::Store(wp, lanes, &weighed[i]);
                one = hn::Add(one, wp);
                by_y = hn::MulAdd(wp, hn::Load(lanes, &y[i]), by_y);
            }
            with_one[g] += total(one);
            with_y[g] += total(by_y);
            std::size_t h = g;
            for (; h + 2 <= count; h += 2) {
                const double *const a = &columns[h * chunk], *const b = a + chunk;
                V pa = hn::Zero(lanes), pb = hn::Zero(lanes), qa = pa, qb = pb;
                for (std::size_t i = 0; i < length; i += 2 * width) {
                    const V w0 = hn::Load(lanes, &weighed[i]), w1 = hn::Load(lanes, &weighed[i + width]);
                    pa = hn::MulAdd(w0, hn::Load(lanes, a + i), pa);
                    pb = hn::MulAdd(w0, hn::Load(lanes, b + i), pb);
                    qa = hn::MulAdd(w1, hn::Load(lanes, a + i + width), qa);
                    qb = hn::MulAdd(w1, hn::Load(lanes, b + i + width), qb);
                }
                products_out[g * count + h] += total(hn::Add(pa, qa));
                products_out[g * count + h + 1] += total(hn::Add(pb, qb));
            }
            if (h < count) {
                V p = hn::Zero(lanes);
                for (std::size_t i = 0; i < length; i += width)
                    p = hn::MulAdd(hn::Load(lanes, &weighed[i]), hn::Load(lanes, &columns[h * chunk + i]), p);
                products_out[g * count + h] += total(p);
            }
        }
    }
}

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

void residuals(const double* y, std::size_t count, const DecaySum& sum, ResidualSums& out) {
    if (sum.parts == 1) out = residuals_of<1>(y, count, sum);
    if (sum.parts == 2) out = residuals_of<2>(y, count, sum);
    if (sum.parts == 3) out = residuals_of<3>(y, count, sum);
}

}  // namespace ebbtide::lanes::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace ebbtide::lanes {

HWY_EXPORT(all_near_line);
HWY_EXPORT(fill_means);
HWY_EXPORT(sums);
HWY_EXPORT(products);
HWY_EXPORT(residuals);

bool evenly_spaced(std::span<const double> x) {
    if (x.size() < 2) return false;
    const double interval = (x.back() - x.front()) / static_cast<double>(x.size() - 1);
    if (!(interval > 0) || !std::isfinite(interval)) return false;
    const double largest = std::max(std::abs(x.front()), std::abs(x.back()));
    const double rounding = 4 * std::numeric_limits<double>::epsilon() * largest;
    const double tolerance = std::clamp(rounding, 1e-9 * interval, 1e-7 * interval);
    return HWY_DYNAMIC_DISPATCH(all_near_line)(x.data(), x.size(), x.front(), interval, tolerance);
}

void take_means(std::span<const double> y, double less, MeanTiers& out) {
    constexpr std::size_t rows = MeanTiers::rows;
    const std::size_t count = y.size();
    out.tiers = 0;
    std::array<std::size_t, MeanTiers::most> used{};
    const auto add = [&](std::size_t start, std::size_t block, std::size_t means) {
        out.start[out.tiers] = static_cast<double>(start);
        out.block[out.tiers] = static_cast<double>(block);
        used[out.tiers++] = means;
    };
    // Tiers double as long as the last one, which takes what remains, has half a doubling left.
    add(0, 1, rows);
    std::size_t start = rows;
    for (; count >= 3 * start; start *= 2) add(start, start / rows, rows);
    const std::size_t left = count - start;
    std::size_t block = 1, means = std::min(left, rows);
    if (left > rows) {
        std::size_t lost = left;
        for (std::size_t m = rows; m > rows - 4; --m)
            if (left % m < lost) {
                lost = left % m;
                means = m;
                block = left / m;
            }
    }
    add(start, block, means);

    out.padded = (out.tiers + 3) / 4 * 4;
    out.samples = 0;
    for (std::size_t s = 0; s < out.padded; ++s) {
        if (s >= out.tiers) {
            out.start[s] = 0;
            out.block[s] = 1;
        }
        for (std::size_t r = 0; r < rows; ++r) {
            const bool there = s < out.tiers && r < used[s];
            out.weight[r * out.padded + s] = there ? out.block[s] : 0;
            out.mean[r * out.padded + s] = 0;
        }
        if (s < out.tiers) out.samples += static_cast<double>(used[s]) * out.block[s];
    }
    HWY_DYNAMIC_DISPATCH(fill_means)(y.data(), less, out);
}

TierSums tier_sums(const MeanTiers& tiers, std::span<const double> rates) {
    TierSums out;
    HWY_DYNAMIC_DISPATCH(sums)(tiers, rates.data(), rates.size(), out);
    return out;
}

void tier_products(const MeanTiers& tiers, std::span<const double> rates, std::span<double> products_out,
                   std::span<double> with_one, std::span<double> with_y) {
    HWY_DYNAMIC_DISPATCH(products)
    (tiers, rates.data(), rates.size(), products_out.data(), with_one.data(), with_y.data());
}

ResidualSums residual_sums(std::span<const double> y, const DecaySum& sum) {
    ResidualSums out;
    HWY_DYNAMIC_DISPATCH(residuals)(y.data(), y.size(), sum, out);
    return out;
}

}  // namespace ebbtide::lanes
#endif
