#include "lanes/tier_sums.hpp"

#include <algorithm>
#include <cmath>

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "lanes/tier_sums.cpp"
#include <hwy/foreach_target.h>
#include <hwy/highway.h>

#include "lanes/exp_log_inl.hpp"
#include "lanes/four_lanes_inl.hpp"

HWY_BEFORE_NAMESPACE();
namespace ebbtide::lanes::HWY_NAMESPACE {

/// One exponential in some tiers side by side: phi of the first row, the ratio from row to row, and
/// d / phi = slope + slope_step * row.
struct Progression {
    V phi, ratio, slope, slope_step;
};

/// ln(sinh u / u) by its series, and its slope over u. Where u is large the series is off, but there e^(rate
/// start), start at least twelve blocks or 24 u, leaves nothing of it: products are right to 1e-9 of the
/// samples at worst, for a search to be finished on the samples.
HWY_INLINE V log_sinhc(V u2) {
    return hn::Mul(u2, hn::MulAdd(hn::MulAdd(u2, set(1.0 / 2835), set(-1.0 / 180)), u2, set(1.0 / 6)));
}
HWY_INLINE V log_sinhc_slope(V u2) {
    return hn::MulAdd(hn::MulAdd(u2, set(6.0 / 2835), set(-4.0 / 180)), u2, set(2.0 / 6));
}

/// The mean of z^i over a block is e^(rate middle) sinhc(block rate/2) / sinhc(rate/2), sinhc u = sinh u / u.
HWY_INLINE Progression progression(const MeanTiers& tiers, std::size_t s, double rate) {
    const Lanes lanes;
    const V start = hn::Load(lanes, &tiers.start[s]), block = hn::Load(lanes, &tiers.block[s]);
    const V r = set(rate), half = set(0.5);
    const V middle = hn::MulAdd(half, hn::Sub(block, set(1)), start);
    const V half_rate = hn::Mul(half, r), half_block = hn::Mul(half, block);
    const V u = hn::Mul(half_rate, block);
    const V u2 = hn::Min(hn::Mul(u, u), set(1)), one2 = hn::Min(hn::Mul(half_rate, half_rate), set(1));
    const V wider = hn::Sub(log_sinhc(u2), log_sinhc(one2));
    // d wider / d rate
    const V bend = hn::Sub(hn::Mul(half_block, hn::Mul(u, log_sinhc_slope(u2))),
                           hn::Mul(half, hn::Mul(half_rate, log_sinhc_slope(one2))));
    Progression out;
    // Nothing is left below e^-700.
    const V least = set(-700);
    out.phi = exp_within(lanes, hn::Max(hn::MulAdd(r, middle, wider), least));
    out.ratio = exp_within(lanes, hn::Max(hn::Mul(r, block), least));
    out.slope = hn::Neg(hn::Mul(r, hn::Add(middle, bend)));
    out.slope_step = hn::Neg(hn::Mul(r, block));
    return out;
}

/// sum of q^r, r q^r and r^2 q^r over the rows r of a tier, by doubling: all terms are positive and nothing
/// cancels.
struct RowSums {
    V plain, once, twice;
};
/// From n rows to 2n; power = q^n.
HWY_INLINE RowSums doubled(const RowSums& sums, V power, double n) {
    const V both = hn::Add(power, set(1)), shift = hn::Mul(power, set(n));
    const V further = hn::MulAdd(set(n), sums.plain, hn::Add(sums.once, sums.once));
    return {hn::Mul(sums.plain, both), hn::MulAdd(sums.once, both, hn::Mul(shift, sums.plain)),
            hn::MulAdd(sums.twice, both, hn::Mul(shift, further))};
}
HWY_INLINE RowSums row_sums(V q) {
    static_assert(MeanTiers::rows == 12);
    const V q2 = hn::Mul(q, q), q3 = hn::Mul(q2, q), once = hn::MulAdd(set(2), q2, q);
    const RowSums three{hn::Add(set(1), hn::Add(q, q2)), once, hn::MulAdd(set(4), q2, q)};
    return doubled(doubled(three, q3, 3), hn::Mul(q3, q3), 6);
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
        const V weight = hn::Load(lanes, &tiers.weight[s]);
        Progression at[parts];
        V with_y[parts], with_row_y[parts];
        for (std::size_t k = 0; k < parts; ++k) {
            at[k] = progression(tiers, s, rates[k]);
            with_y[k] = with_row_y[k] = none;
        }
        for (std::size_t row = MeanTiers::rows; row-- > 0;) {
            const V y = hn::Load(lanes, &tiers.mean[row * tiers.padded + s]);
            for (std::size_t k = 0; k < parts; ++k) {
                with_row_y[k] = hn::MulAdd(with_row_y[k], at[k].ratio, with_y[k]);
                with_y[k] = hn::MulAdd(with_y[k], at[k].ratio, y);
            }
        }
        for (std::size_t k = 0; k < parts; ++k) {
            const Progression& a = at[k];
            const V weighed = hn::Mul(weight, a.phi);
            const V seen = hn::Mul(weighed, with_y[k]);
            phi_y[k] = hn::Add(phi_y[k], seen);
            d_y[k] = hn::Add(
                d_y[k], hn::MulAdd(a.slope, seen,
                                   hn::Mul(hn::Mul(a.slope_step, a.ratio), hn::Mul(weighed, with_row_y[k]))));
            const RowSums own = row_sums(a.ratio);
            phi_one[k] = hn::MulAdd(weighed, own.plain, phi_one[k]);
            d_one[k] = hn::MulAdd(weighed, hn::MulAdd(a.slope, own.plain, hn::Mul(a.slope_step, own.once)),
                                  d_one[k]);
            for (std::size_t l = k; l < parts; ++l) {
                const Progression& b = at[l];
                const RowSums rows = row_sums(hn::Mul(a.ratio, b.ratio));
                const V both = hn::Mul(weighed, b.phi);
                // phi_k d_l and r phi_k d_l
                const V by_b = hn::MulAdd(b.slope, rows.plain, hn::Mul(b.slope_step, rows.once));
                const V by_b_row = hn::MulAdd(b.slope, rows.once, hn::Mul(b.slope_step, rows.twice));
                phi_phi[k][l] = hn::MulAdd(both, rows.plain, phi_phi[k][l]);
                phi_d[k][l] = hn::MulAdd(both, by_b, phi_d[k][l]);
                d_d[k][l] =
                    hn::MulAdd(both, hn::MulAdd(a.slope, by_b, hn::Mul(a.slope_step, by_b_row)), d_d[k][l]);
                if (l == k) continue;
                const V by_a = hn::MulAdd(a.slope, rows.plain, hn::Mul(a.slope_step, rows.once));
                phi_d[l][k] = hn::MulAdd(both, by_a, phi_d[l][k]);
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

void first_look(const MeanTiers& tiers, double first_rate, std::size_t count, double* products,
                double* with_one, double* with_y) {
    constexpr std::size_t most_rates = 32;
    constexpr std::size_t together = 3;  // neighbouring means
    constexpr std::size_t threes = MeanTiers::rows / together;
    constexpr std::size_t chunk = threes * 8;  // eight tiers: the columns stay near
    const Lanes lanes;
    const std::size_t width = hn::Lanes(lanes);
    HWY_ALIGN std::array<double, most_rates * chunk> columns;
    HWY_ALIGN std::array<double, chunk> weighed;
    for (std::size_t g = 0; g < count; ++g) {
        with_one[g] = with_y[g] = 0;
        for (std::size_t h = g; h < count; ++h) products[g * count + h] = 0;
    }
    const V slowest = set(std::ldexp(first_rate, 1 - static_cast<int>(count)));
    for (std::size_t from = 0; from < tiers.padded; from += 8) {
        const std::size_t across = std::min<std::size_t>(8, tiers.padded - from);
        const std::size_t length = threes * across;
        double* const last = &columns[(count - 1) * chunk];
        for (std::size_t s = 0; s < across; s += width) {
            const V start = hn::Load(lanes, &tiers.start[from + s]);
            const V block = hn::Load(lanes, &tiers.block[from + s]);
            const V long_block = hn::Mul(block, set(together));
            const V middle = hn::MulAdd(set(0.5), hn::Sub(long_block, set(1)), start);
            V phi = exp_of(lanes, hn::Mul(slowest, middle));
            const V ratio = exp_of(lanes, hn::Mul(slowest, long_block));
            for (std::size_t three = 0; three < threes; ++three, phi = hn::Mul(phi, ratio))
                hn::Store(phi, lanes, last + three * across + s);
        }
        // Twice the rate is the square.
        for (std::size_t g = count - 1; g-- > 0;)
            for (std::size_t i = 0; i < length; i += width) {
                const V slower = hn::Load(lanes, &columns[(g + 1) * chunk + i]);
                hn::Store(hn::Mul(slower, slower), lanes, &columns[g * chunk + i]);
            }
        for (std::size_t g = 0; g < count; ++g) {
            V one = hn::Zero(lanes), by_y = one;
            const double* const column = &columns[g * chunk];
            for (std::size_t three = 0; three < threes; ++three)
                for (std::size_t s = 0; s < across; s += width) {
                    const double* const y = &tiers.mean[together * three * tiers.padded + from + s];
                    const std::size_t at = three * across + s;
                    const V wp =
                        hn::Mul(hn::Load(lanes, column + at), hn::Load(lanes, &tiers.weight[from + s]));
                    hn::Store(hn::Mul(wp, set(together)), lanes, &weighed[at]);
                    one = hn::Add(one, wp);
                    const V seen = hn::Add(hn::Load(lanes, y), hn::Load(lanes, y + tiers.padded));
                    by_y = hn::MulAdd(wp, hn::Add(seen, hn::Load(lanes, y + 2 * tiers.padded)), by_y);
                }
            with_one[g] += together * total(one);
            with_y[g] += total(by_y);
            // Three columns at once, two sums each: that hides how long a multiplication takes.
            std::size_t h = g;
            for (; h + 3 <= count; h += 3) {
                const double* const a = &columns[h * chunk];
                V p0 = hn::Zero(lanes), p1 = p0, p2 = p0, q0 = p0, q1 = p0, q2 = p0;
                for (std::size_t i = 0; i < length; i += 2 * width) {
                    const V w = hn::Load(lanes, &weighed[i]), v = hn::Load(lanes, &weighed[i + width]);
                    const double* const b = a + i;
                    p0 = hn::MulAdd(w, hn::Load(lanes, b), p0);
                    q0 = hn::MulAdd(v, hn::Load(lanes, b + width), q0);
                    p1 = hn::MulAdd(w, hn::Load(lanes, b + chunk), p1);
                    q1 = hn::MulAdd(v, hn::Load(lanes, b + chunk + width), q1);
                    p2 = hn::MulAdd(w, hn::Load(lanes, b + 2 * chunk), p2);
                    q2 = hn::MulAdd(v, hn::Load(lanes, b + 2 * chunk + width), q2);
                }
                double* const out = products + g * count + h;
                out[0] += total(hn::Add(p0, q0));
                out[1] += total(hn::Add(p1, q1));
                out[2] += total(hn::Add(p2, q2));
            }
            for (; h < count; ++h) {
                V p = hn::Zero(lanes), q = p;
                for (std::size_t i = 0; i < length; i += 2 * width) {
                    const double* const b = &columns[h * chunk + i];
                    p = hn::MulAdd(hn::Load(lanes, &weighed[i]), hn::Load(lanes, b), p);
                    q = hn::MulAdd(hn::Load(lanes, &weighed[i + width]), hn::Load(lanes, b + width), q);
                }
                products[g * count + h] += total(hn::Add(p, q));
            }
        }
    }
}

}  // namespace ebbtide::lanes::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace ebbtide::lanes {

HWY_EXPORT(sums);
HWY_EXPORT(first_look);

TierSums tier_sums(const MeanTiers& tiers, std::span<const double> rates) {
    TierSums out;
    HWY_DYNAMIC_DISPATCH(sums)(tiers, rates.data(), rates.size(), out);
    return out;
}

void halving_products(const MeanTiers& tiers, double first_rate, std::size_t count,
                      std::span<double> products, std::span<double> with_one, std::span<double> with_y) {
    HWY_DYNAMIC_DISPATCH(first_look)
    (tiers, first_rate, count, products.data(), with_one.data(), with_y.data());
}

}  // namespace ebbtide::lanes
#endif
