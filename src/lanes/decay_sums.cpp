#include "lanes/decay_sums.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "lanes/decay_sums.cpp"
#include <hwy/foreach_target.h>
#include <hwy/highway.h>

#include "lanes/exp_log_inl.hpp"
#include "lanes/four_lanes_inl.hpp"

HWY_BEFORE_NAMESPACE();
namespace ebbtide::lanes::HWY_NAMESPACE {

/// Sum of the squared distances from first + interval * i.
double distance_from_line(const double* x, std::size_t count, double first, double interval) {
    const Lanes lanes;
    const std::size_t width = hn::Lanes(lanes);
    auto a = hn::Zero(lanes), b = a;
    const auto two_on = set(static_cast<double>(2 * width));
    auto index = hn::Iota(lanes, 0), next = hn::Iota(lanes, static_cast<double>(width));
    const auto step = set(interval), from = set(first);
    std::size_t i = 0;
    for (; i + 2 * width <= count; i += 2 * width) {
        const auto off = hn::NegMulAdd(index, step, hn::Sub(hn::LoadU(lanes, x + i), from));
        const auto other = hn::NegMulAdd(next, step, hn::Sub(hn::LoadU(lanes, x + i + width), from));
        a = hn::MulAdd(off, off, a);
        b = hn::MulAdd(other, other, b);
        index = hn::Add(index, two_on);
        next = hn::Add(next, two_on);
    }
    double sum = total(hn::Add(a, b));
    for (; i < count; ++i) {
        const double off = x[i] - first - static_cast<double>(i) * interval;
        sum += off * off;
    }
    return sum;
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
        for (std::size_t r = 0; r < MeanTiers::rows; ++r, at += block)
            out.mean[r * out.padded + s] = (block == 1 ? *at : share * sum_of(at, block)) - less;
    }
    const Lanes lanes;
    auto sum = hn::Zero(lanes), squares = hn::Zero(lanes);
    for (std::size_t s = 0; s < out.padded; s += hn::Lanes(lanes)) {
        auto tier_sum = hn::Zero(lanes), tier_squares = hn::Zero(lanes);
        for (std::size_t r = 0; r < MeanTiers::rows; ++r) {
            const auto mean = hn::Load(lanes, &out.mean[r * out.padded + s]);
            tier_sum = hn::Add(tier_sum, mean);
            tier_squares = hn::MulAdd(mean, mean, tier_squares);
        }
        const auto weight = hn::Load(lanes, &out.weight[s]);
        sum = hn::MulAdd(weight, tier_sum, sum);
        squares = hn::MulAdd(weight, tier_squares, squares);
    }
    out.sum = total(sum);
    out.squares = total(squares);
}

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
    out.phi = exp_of(lanes, hn::MulAdd(r, middle, wider));
    out.ratio = exp_of(lanes, hn::Mul(r, block));
    out.slope = hn::Neg(hn::Mul(r, hn::Add(middle, bend)));
    out.slope_step = hn::Neg(hn::Mul(r, block));
    return out;
}

template <std::size_t parts>
void sums_of(const MeanTiers& tiers, const double* rates, TierSums& out) {
    const Lanes lanes;
    const V none = hn::Zero(lanes);
    V all_phi_phi[parts][parts], all_phi_d[parts][parts], all_d_d[parts][parts];
    V all_phi_one[parts], all_d_one[parts], all_phi_y[parts], all_d_y[parts];
    for (std::size_t k = 0; k < parts; ++k) {
        all_phi_one[k] = all_d_one[k] = all_phi_y[k] = all_d_y[k] = none;
        for (std::size_t l = 0; l < parts; ++l) all_phi_phi[k][l] = all_phi_d[k][l] = all_d_d[k][l] = none;
    }
    for (std::size_t s = 0; s < tiers.padded; s += hn::Lanes(lanes)) {
        V phi[parts], slope[parts], ratio[parts], step[parts];
        V phi_phi[parts][parts], phi_d[parts][parts], d_d[parts][parts];
        V phi_one[parts], d_one[parts], phi_y[parts], d_y[parts];
        for (std::size_t k = 0; k < parts; ++k) {
            const Progression at = progression(tiers, s, rates[k]);
            phi[k] = at.phi;
            ratio[k] = at.ratio;
            slope[k] = at.slope;
            step[k] = at.slope_step;
            phi_one[k] = d_one[k] = phi_y[k] = d_y[k] = none;
            for (std::size_t l = 0; l < parts; ++l) phi_phi[k][l] = phi_d[k][l] = d_d[k][l] = none;
        }
        for (std::size_t row = 0; row < MeanTiers::rows; ++row) {
            const V y = hn::Load(lanes, &tiers.mean[row * tiers.padded + s]);
            V d[parts];
            for (std::size_t k = 0; k < parts; ++k) d[k] = hn::Mul(phi[k], slope[k]);
            for (std::size_t k = 0; k < parts; ++k) {
                phi_one[k] = hn::Add(phi_one[k], phi[k]);
                d_one[k] = hn::Add(d_one[k], d[k]);
                phi_y[k] = hn::MulAdd(phi[k], y, phi_y[k]);
                d_y[k] = hn::MulAdd(d[k], y, d_y[k]);
                for (std::size_t l = 0; l < parts; ++l) {
                    phi_d[k][l] = hn::MulAdd(phi[k], d[l], phi_d[k][l]);
                    if (l < k) continue;
                    phi_phi[k][l] = hn::MulAdd(phi[k], phi[l], phi_phi[k][l]);
                    d_d[k][l] = hn::MulAdd(d[k], d[l], d_d[k][l]);
                }
            }
            for (std::size_t k = 0; k < parts; ++k) {
                phi[k] = hn::Mul(phi[k], ratio[k]);
                slope[k] = hn::Add(slope[k], step[k]);
            }
        }
        const V weight = hn::Load(lanes, &tiers.weight[s]);
        for (std::size_t k = 0; k < parts; ++k) {
            all_phi_one[k] = hn::MulAdd(weight, phi_one[k], all_phi_one[k]);
            all_d_one[k] = hn::MulAdd(weight, d_one[k], all_d_one[k]);
            all_phi_y[k] = hn::MulAdd(weight, phi_y[k], all_phi_y[k]);
            all_d_y[k] = hn::MulAdd(weight, d_y[k], all_d_y[k]);
            for (std::size_t l = 0; l < parts; ++l) {
                all_phi_d[k][l] = hn::MulAdd(weight, phi_d[k][l], all_phi_d[k][l]);
                if (l < k) continue;
                all_phi_phi[k][l] = hn::MulAdd(weight, phi_phi[k][l], all_phi_phi[k][l]);
                all_d_d[k][l] = hn::MulAdd(weight, d_d[k][l], all_d_d[k][l]);
            }
        }
    }
    for (std::size_t k = 0; k < parts; ++k) {
        out.phi_one[k] = total(all_phi_one[k]);
        out.d_one[k] = total(all_d_one[k]);
        out.phi_y[k] = total(all_phi_y[k]);
        out.d_y[k] = total(all_d_y[k]);
        for (std::size_t l = 0; l < parts; ++l) {
            out.phi_d[k][l] = total(all_phi_d[k][l]);
            if (l < k) continue;
            out.phi_phi[k][l] = out.phi_phi[l][k] = total(all_phi_phi[k][l]);
            out.d_d[k][l] = out.d_d[l][k] = total(all_d_d[k][l]);
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
    constexpr std::size_t pairs = MeanTiers::rows / 2;  // of neighbouring means
    constexpr std::size_t chunk = pairs * 8;            // eight tiers: the columns stay near
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
        const std::size_t length = pairs * across;
        double* const last = &columns[(count - 1) * chunk];
        for (std::size_t s = 0; s < across; s += width) {
            const V start = hn::Load(lanes, &tiers.start[from + s]);
            const V block = hn::Load(lanes, &tiers.block[from + s]);
            V phi = exp_of(lanes, hn::Mul(slowest, hn::Add(hn::Sub(block, set(0.5)), start)));
            const V ratio = exp_of(lanes, hn::Mul(slowest, hn::Add(block, block)));
            for (std::size_t pair = 0; pair < pairs; ++pair, phi = hn::Mul(phi, ratio))
                hn::Store(phi, lanes, last + pair * across + s);
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
            for (std::size_t pair = 0; pair < pairs; ++pair)
                for (std::size_t s = 0; s < across; s += width) {
                    const double* const y = &tiers.mean[2 * pair * tiers.padded + from + s];
                    const std::size_t at = pair * across + s;
                    const V wp =
                        hn::Mul(hn::Load(lanes, column + at), hn::Load(lanes, &tiers.weight[from + s]));
                    hn::Store(hn::Add(wp, wp), lanes, &weighed[at]);
                    one = hn::Add(one, wp);
                    by_y =
                        hn::MulAdd(wp, hn::Add(hn::Load(lanes, y), hn::Load(lanes, y + tiers.padded)), by_y);
                }
            with_one[g] += 2 * total(one);
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

/// sum of e^(s i) and of i e^(s i) over i < count, s < 0.
struct PowerSums {
    double plain, with_index;
};
HWY_INLINE PowerSums power_sums(double s, double count) {
    const Lanes lanes;
    const double w = hn::GetLane(exp_of(lanes, set(s)));
    const double before_last = hn::GetLane(exp_of(lanes, set(s * (count - 1))));
    const double gap = 1 - w;
    return {(1 - before_last * w) / gap, w * (1 - before_last * (1 + (count - 1) * gap)) / (gap * gap)};
}

/// Horner from the end, in lanes: sample i = (2t + odd) * width + lane.
template <std::size_t parts>
ResidualSums moments_of(const double* y, std::size_t count, const DecaySum& sum) {
    const Lanes lanes;
    const std::size_t width = hn::Lanes(lanes);
    const std::size_t step = 2 * width, turns = count / step;
    const V none = hn::Zero(lanes);
    V ratio[parts], even[parts], odd[parts], even_slope[parts], odd_slope[parts];
    for (std::size_t k = 0; k < parts; ++k) {
        ratio[k] = exp_of(lanes, set(sum.rate[k] * static_cast<double>(step)));
        even[k] = odd[k] = even_slope[k] = odd_slope[k] = none;
    }
    V plain = none, plain_odd = none;
    for (std::size_t t = turns; t-- > 0;) {
        const V a = hn::LoadU(lanes, y + t * step), b = hn::LoadU(lanes, y + t * step + width);
        plain = hn::Add(plain, a);
        plain_odd = hn::Add(plain_odd, b);
        for (std::size_t k = 0; k < parts; ++k) {
            even_slope[k] = hn::MulAdd(even_slope[k], ratio[k], even[k]);
            odd_slope[k] = hn::MulAdd(odd_slope[k], ratio[k], odd[k]);
            even[k] = hn::MulAdd(even[k], ratio[k], a);
            odd[k] = hn::MulAdd(odd[k], ratio[k], b);
        }
    }
    ResidualSums out;
    out.plain = total(hn::Add(plain, plain_odd));
    const V lane = hn::Iota(lanes, 0), next = hn::Iota(lanes, static_cast<double>(width));
    const auto n = static_cast<double>(count);
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
        out.plain += y[i];
        for (std::size_t k = 0; k < parts; ++k) {
            const double by = y[i] * std::exp(sum.rate[k] * position);
            out.with[k] += by;
            out.with_index[k] += by * position;
        }
    }
    out.plain -= sum.constant * n;
    for (std::size_t k = 0; k < parts; ++k) {
        const PowerSums own = power_sums(sum.rate[k], n);
        out.plain -= sum.amplitude[k] * own.plain;
        out.with[k] -= sum.constant * own.plain;
        out.with_index[k] -= sum.constant * own.with_index;
        for (std::size_t l = k; l < parts; ++l) {
            const PowerSums both = power_sums(sum.rate[k] + sum.rate[l], n);
            out.with[k] -= sum.amplitude[l] * both.plain;
            out.with_index[k] -= sum.amplitude[l] * both.with_index;
            if (l == k) continue;
            out.with[l] -= sum.amplitude[k] * both.plain;
            out.with_index[l] -= sum.amplitude[k] * both.with_index;
        }
    }
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

HWY_EXPORT(distance_from_line);
HWY_EXPORT(fill_means);
HWY_EXPORT(sums);
HWY_EXPORT(first_look);
HWY_EXPORT(moments);
HWY_EXPORT(residuals);

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

void take_means(std::span<const double> y, double less, MeanTiers& out) {
    constexpr std::size_t rows = MeanTiers::rows;
    const std::size_t count = y.size();
    out.tiers = 0;
    const auto add = [&](std::size_t start, std::size_t block) {
        out.start[out.tiers] = static_cast<double>(start);
        out.block[out.tiers++] = static_cast<double>(block);
    };
    // Tiers double as long as the last one, which takes what remains, has half a doubling left.
    add(0, 1);
    std::size_t start = rows;
    for (; count >= 3 * start; start *= 2) add(start, start / rows);
    add(start, (count - start) / rows);
    out.padded = (out.tiers + 3) / 4 * 4;
    out.count = rows * out.tiers;
    out.samples = 0;
    for (std::size_t s = 0; s < out.padded; ++s) {
        const bool there = s < out.tiers;
        if (!there) {
            out.start[s] = 0;
            out.block[s] = 1;
            for (std::size_t r = 0; r < rows; ++r) out.mean[r * out.padded + s] = 0;
        }
        out.weight[s] = there ? out.block[s] : 0;
        out.samples += static_cast<double>(rows) * out.weight[s];
    }
    HWY_DYNAMIC_DISPATCH(fill_means)(y.data(), less, out);
}

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
