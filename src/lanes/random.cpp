#include "lanes/random.hpp"

#include <algorithm>
#include <array>
#include <cstddef>
#include <stdexcept>

// Highway compiles what stands between its two namespace marks once for each instruction set and picks one at
// run time.
#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "lanes/random.cpp"
#include <hwy/foreach_target.h>
#include <hwy/highway.h>

HWY_BEFORE_NAMESPACE();
namespace ebbtide::lanes::HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;

// Only operations that round alike everywhere (no fused multiply-add, no estimates), so that every
// instruction set draws the same numbers to the last bit.
using Words = hn::CappedTag<std::uint32_t, 16>;
using Pairs = hn::Repartition<std::uint64_t, Words>;
using Floats = hn::CappedTag<float, 16>;
using Ints = hn::RebindToSigned<Floats>;
using Doubles = hn::CappedTag<double, 8>;

constexpr std::size_t counters = 16;  // of a group: 64 words

/// Words 0 and 1 of 16 counters, then their words 2 and 3.
struct Group {
    HWY_ALIGN std::array<std::uint32_t, 4 * counters> words;
};

HWY_INLINE void fill(Group& group, const Stream& stream, std::uint64_t first) {
    const Words words;
    const Pairs pairs;
    const auto high = [&](auto v) HWY_ATTR { return hn::ShiftRight<32>(v); };
    const auto product = [&](auto v, std::uint32_t factor) HWY_ATTR {
        return hn::MulEven(hn::BitCast(words, v), hn::Set(words, factor));  // of the low halves
    };
    for (std::size_t i = 0; i < counters; i += hn::Lanes(pairs)) {
        // One counter a lane of 64 bits; what the high half of a lane holds does not matter.
        auto a = hn::Iota(pairs, first + i);
        auto b = high(a);
        auto c = hn::Set(pairs, stream.purpose);
        auto d = high(c);
        auto key_0 = static_cast<std::uint32_t>(stream.seed);
        auto key_1 = static_cast<std::uint32_t>(stream.seed >> 32);
        for (int round = 0; round < 10; ++round) {
            const auto p = product(a, 0xD2511F53u), q = product(c, 0xCD9E8D57u);
            a = hn::Xor(hn::Xor(high(q), b), hn::Set(pairs, key_0));
            c = hn::Xor(hn::Xor(high(p), d), hn::Set(pairs, key_1));
            b = q;
            d = p;
            key_0 += 0x9E3779B9u;
            key_1 += 0xBB67AE85u;
        }
        const auto side_by_side = [&](auto one, auto other) HWY_ATTR {
            return hn::OddEven(hn::BitCast(words, hn::ShiftLeft<32>(other)), hn::BitCast(words, one));
        };
        hn::Store(side_by_side(a, b), words, &group.words[2 * i]);
        hn::Store(side_by_side(c, d), words, &group.words[2 * (counters + i)]);
    }
}

template <class V>
HWY_INLINE V polynomial(V, float last) {
    return hn::Set(Floats(), last);
}
/// Coefficients from the constant upward.
template <class V, class... More>
HWY_INLINE V polynomial(V x, float first, More... more) {
    return hn::Add(hn::Set(Floats(), first), hn::Mul(x, polynomial(x, more...)));
}

// The polynomials below were interpolated at Chebyshev nodes in 50 digits and rounded; beside each its
// largest error relative to the function.

/// -2 ln u, u uniform in (0, 1] from 31 bits.
HWY_INLINE hn::Vec<Floats> minus_two_log(hn::Vec<Words> bits) {
    const Floats f;
    const Ints n;
    const auto k = hn::ConvertTo(f, hn::BitCast(n, hn::ShiftRight<1>(bits)));
    const auto u = hn::BitCast(n, hn::Mul(hn::Add(k, hn::Set(f, 0.5F)), hn::Set(f, 0x1p-31F)));
    // u = 2^e (1 + x), x between sqrt(1/2) - 1 and sqrt(2) - 1.
    const auto e = hn::ShiftRight<23>(hn::Sub(u, hn::Set(n, 0x3F3504F3)));
    const auto x = hn::Sub(hn::BitCast(f, hn::Sub(u, hn::ShiftLeft<23>(e))), hn::Set(f, 1.0F));
    const auto xx = hn::Mul(x, x);
    // (ln(1 + x) - x + x^2/2) / x^3; ln(1 + x) to 1.3e-7
    const auto tail = polynomial(x, 0.333334148F, -0.250007033F, 0.199842229F, -0.166027188F, 0.147038996F,
                                 -0.140308917F, 0.0904878452F);
    const auto bend = hn::Mul(xx, hn::Sub(hn::Set(f, 1.0F), hn::Mul(hn::Set(f, 2.0F), hn::Mul(x, tail))));
    const auto whole = hn::Mul(hn::ConvertTo(f, e), hn::Set(f, -1.38629436F));  // 2 ln 2
    return hn::Max(hn::Zero(f), hn::Add(whole, hn::Sub(bend, hn::Add(x, x))));
}

/// exp(x) - 1 for x in [0, 80].
HWY_INLINE hn::Vec<Floats> exp_less_one(hn::Vec<Floats> x) {
    const Floats f;
    const Ints n;
    const auto k = hn::NearestInt(hn::Mul(x, hn::Set(f, 1.44269504F)));
    const auto kf = hn::ConvertTo(f, k);
    // ln 2 in two parts, the first short enough for an exact product.
    const auto r =
        hn::Sub(hn::Sub(x, hn::Mul(kf, hn::Set(f, 0.693359375F))), hn::Mul(kf, hn::Set(f, -2.12194440e-4F)));
    // (exp(r) - 1 - r) / r^2 for |r| up to ln(2)/2; exp(r) - 1 to 2.2e-8
    const auto tail = polynomial(r, 0.5F, 0.166665778F, 0.0416665561F, 0.00836317334F, 0.00139261759F);
    const auto p = hn::Add(r, hn::Mul(hn::Mul(r, r), tail));
    const auto power = hn::BitCast(f, hn::ShiftLeft<23>(hn::Add(k, hn::Set(n, 127))));
    return hn::Add(hn::Mul(power, p), hn::Sub(power, hn::Set(f, 1.0F)));
}

struct Direction {
    hn::Vec<Floats> cosine, sine;
};

/// Of an angle uniform over the full turn: 29 bits within an eighth of it, three that say which.
HWY_INLINE Direction direction(hn::Vec<Words> bits) {
    const Floats f;
    const Ints n;
    const auto within = hn::BitCast(n, hn::And(bits, hn::Set(Words(), 0x1FFFFFFFu)));
    const auto x = hn::Mul(hn::Add(hn::ConvertTo(f, within), hn::Set(f, 0.5F)), hn::Set(f, 0x1p-29F));
    const auto xx = hn::Mul(x, x);
    // Sine to 3.4e-8 and cosine to 7.6e-8 of pi x/4.
    const auto s = hn::Mul(x, polynomial(xx, 0.785398185F, -0.0807454363F, 0.00249000685F, -3.59542901e-05F));
    const auto c = polynomial(xx, 1.0F, -0.308424264F, 0.0158499107F, -0.000318877486F);
    const auto sign = hn::Set(Words(), 0x80000000u);
    const auto swap =
        hn::MaskFromVec(hn::BitCast(f, hn::BroadcastSignBit(hn::BitCast(n, hn::ShiftLeft<2>(bits)))));
    const auto cosine_sign = hn::BitCast(f, hn::And(bits, sign));
    const auto sine_sign = hn::BitCast(f, hn::And(hn::ShiftLeft<1>(bits), sign));
    return {hn::Xor(hn::IfThenElse(swap, s, c), cosine_sign), hn::Xor(hn::IfThenElse(swap, c, s), sine_sign)};
}

/// Adds scale * draw for the trials of a group, of which `sum` may begin and end inside.
template <std::size_t size, class Draw>
HWY_INLINE void add_groups(const Stream& stream, std::uint64_t first, double scale, std::span<double> sum,
                           const Draw& draw) {
    const Doubles doubles;
    const hn::Rebind<float, Doubles> floats;
    const std::size_t width = hn::Lanes(doubles);
    const auto factor = hn::Set(doubles, scale);
    Group group;
    HWY_ALIGN std::array<float, size> draws;
    for (std::size_t at = 0; at < sum.size();) {
        const std::uint64_t number = (first + at) / size;
        const std::size_t skip = static_cast<std::size_t>((first + at) % size);
        const std::size_t take = std::min(size - skip, sum.size() - at);
        fill(group, stream, number * counters);
        draw(group, draws);
        double* const out = sum.data() + at;
        if (take == size) {
            for (std::size_t i = 0; i < size; i += width) {
                const auto x = hn::PromoteTo(doubles, hn::Load(floats, &draws[i]));
                hn::StoreU(hn::Add(hn::LoadU(doubles, out + i), hn::Mul(factor, x)), doubles, out + i);
            }
        } else {
            for (std::size_t i = 0; i < take; ++i) out[i] += scale * static_cast<double>(draws[skip + i]);
        }
        at += take;
    }
}

void normal(const Stream& stream, std::uint64_t first, double scale, std::span<double> sum) {
    add_groups<4 * counters>(
        stream, first, scale, sum, [](const Group& group, std::array<float, 4 * counters>& draws) HWY_ATTR {
            const Words words;
            for (std::size_t i = 0; i < 2 * counters; i += hn::Lanes(words)) {
                const auto radius = hn::Sqrt(minus_two_log(hn::Load(words, &group.words[i])));
                const Direction way = direction(hn::Load(words, &group.words[2 * counters + i]));
                hn::Store(hn::Mul(radius, way.cosine), Floats(), &draws[i]);
                hn::Store(hn::Mul(radius, way.sine), Floats(), &draws[2 * counters + i]);
            }
        });
}

void students_t(const Stream& stream, std::uint64_t first, double degrees_of_freedom, double scale,
                std::span<double> sum) {
    const float v = static_cast<float>(degrees_of_freedom),
                inverse = static_cast<float>(1 / degrees_of_freedom);
    add_groups<2 * counters>(
        stream, first, scale, sum, [=](const Group& group, std::array<float, 2 * counters>& draws) HWY_ATTR {
            const Words words;
            const Floats f;
            for (std::size_t i = 0; i < 2 * counters; i += hn::Lanes(words)) {
                const auto w = minus_two_log(hn::Load(words, &group.words[i]));
                const auto square = hn::Mul(hn::Set(f, v), exp_less_one(hn::Mul(w, hn::Set(f, inverse))));
                const Direction way = direction(hn::Load(words, &group.words[2 * counters + i]));
                hn::Store(hn::Mul(hn::Sqrt(square), way.cosine), f, &draws[i]);
            }
        });
}

void uniform(const Stream& stream, std::uint64_t first, double scale, std::span<double> sum) {
    constexpr std::size_t size = 2 * counters;
    Group group;
    for (std::size_t at = 0; at < sum.size();) {
        const std::uint64_t number = (first + at) / size;
        const std::size_t skip = static_cast<std::size_t>((first + at) % size);
        const std::size_t take = std::min(size - skip, sum.size() - at);
        fill(group, stream, number * counters);
        for (std::size_t i = 0; i < take; ++i) {
            const std::uint64_t bits =
                std::uint64_t{group.words[2 * (skip + i) + 1]} << 32 | group.words[2 * (skip + i)];
            sum[at + i] += scale * (static_cast<double>(bits >> 12) * 0x1p-52 + 0x1p-53);
        }
        at += take;
    }
}

void words(const Stream& stream, std::uint64_t first, std::span<std::uint32_t> out) {
    Group group;
    for (std::size_t at = 0; at < out.size(); at += 4 * counters) {
        fill(group, stream, first + at / 4);
        const std::size_t take = std::min(out.size() - at, 4 * counters);
        for (std::size_t i = 0; i < take; ++i) {
            const std::size_t counter = i / 4, word = i % 4;
            out[at + i] = group.words[2 * (counter + (word / 2) * counters) + word % 2];
        }
    }
}

}  // namespace ebbtide::lanes::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace ebbtide::lanes {

HWY_EXPORT(words);
HWY_EXPORT(uniform);
HWY_EXPORT(normal);
HWY_EXPORT(students_t);

void random_words(const Stream& stream, std::uint64_t first, std::span<std::uint32_t> out) {
    HWY_DYNAMIC_DISPATCH(words)(stream, first, out);
}

void add_uniform(const Stream& stream, std::uint64_t first, double scale, std::span<double> sum) {
    HWY_DYNAMIC_DISPATCH(uniform)(stream, first, scale, sum);
}

void add_normal(const Stream& stream, std::uint64_t first, double scale, std::span<double> sum) {
    HWY_DYNAMIC_DISPATCH(normal)(stream, first, scale, sum);
}

void add_students_t(const Stream& stream, std::uint64_t first, double degrees_of_freedom, double scale,
                    std::span<double> sum) {
    if (!(degrees_of_freedom >= 1)) throw std::invalid_argument("Student's t below one degree of freedom");
    HWY_DYNAMIC_DISPATCH(students_t)(stream, first, degrees_of_freedom, scale, sum);
}

}  // namespace ebbtide::lanes
#endif
