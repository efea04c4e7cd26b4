#if defined(__GNUC__) && !defined(__clang__)
// Otherwise GCC takes the steps of a chain in the order in which they stand, and runs out of registers for
// four of them: a tenth more time a draw.
#pragma GCC optimize("schedule-insns", "sched-pressure")
#endif
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
using Floats = hn::CappedTag<float, 16>;
using Ints = hn::RebindToSigned<Floats>;
using Doubles = hn::CappedTag<double, 8>;

constexpr std::size_t counters = 16;  // of a group: 64 words

/// Words 0 and 1 of 16 counters, then their words 2 and 3.
struct Group {
    HWY_ALIGN std::array<std::uint32_t, 4 * counters> words;
};

/// The keys of ten rounds, each as wide as a vector: they are then operands in memory and cost nothing.
struct Keys {
    static constexpr std::size_t width = std::max<std::size_t>(1, hn::MaxLanes(Words()) / 2);
    HWY_ALIGN std::array<std::uint64_t, 10 * width> even, odd;

    explicit Keys(std::uint64_t seed) {
        auto a = static_cast<std::uint32_t>(seed), b = static_cast<std::uint32_t>(seed >> 32);
        for (std::size_t round = 0; round < 10; ++round, a += 0x9E3779B9u, b += 0xBB67AE85u) {
            std::fill_n(&even[round * width], width, a);
            std::fill_n(&odd[round * width], width, b);
        }
    }
};

#if HWY_TARGET == HWY_SCALAR
// Without vectors there are no pairs of lanes either.
void fill(Group& group, const Keys& keys, std::uint64_t purpose, std::uint64_t first) {
    for (std::size_t i = 0; i < counters; ++i) {
        const auto low = [](std::uint64_t v) { return v & 0xFFFFFFFFu; };
        std::uint64_t a = low(first + i), b = (first + i) >> 32, c = low(purpose), d = purpose >> 32;
        for (std::size_t round = 0; round < 10; ++round) {
            const std::uint64_t p = a * 0xD2511F53u, q = c * 0xCD9E8D57u;
            a = (q >> 32) ^ b ^ keys.even[round * Keys::width];
            c = (p >> 32) ^ d ^ keys.odd[round * Keys::width];
            b = low(q);
            d = low(p);
        }
        const std::array<std::uint64_t, 4> words{a, b, c, d};
        for (std::size_t k = 0; k < 4; ++k)
            group.words[2 * (i + k / 2 * counters) + k % 2] = static_cast<std::uint32_t>(words[k]);
    }
}
#else
using Pairs = hn::Repartition<std::uint64_t, Words>;

/// A counter in each lane of 64 bits; what the high half of a lane holds does not matter.
struct Counters {
    hn::Vec<Pairs> a, b, c, d;

    HWY_INLINE void next(const Keys& keys, std::size_t round) {
        const Words words;
        const Pairs pairs;
        const auto p = hn::MulEven(hn::BitCast(words, a), hn::Set(words, 0xD2511F53u));
        const auto q = hn::MulEven(hn::BitCast(words, c), hn::Set(words, 0xCD9E8D57u));
        a = hn::Xor(hn::ShiftRight<32>(q), hn::Xor(b, hn::Load(pairs, &keys.even[round * Keys::width])));
        c = hn::Xor(hn::ShiftRight<32>(p), hn::Xor(d, hn::Load(pairs, &keys.odd[round * Keys::width])));
        b = q;
        d = p;
    }
    HWY_INLINE void store(std::uint32_t* to) const {
        const Words words;
        const auto beside = [](auto one, auto other) HWY_ATTR {
            return hn::OddEven(hn::BitCast(Words(), hn::ShiftLeft<32>(other)), hn::BitCast(Words(), one));
        };
        hn::Store(beside(a, b), words, to);
        hn::Store(beside(c, d), words, to + 2 * counters);
    }
};

HWY_INLINE void fill(Group& group, const Keys& keys, std::uint64_t purpose, std::uint64_t first) {
    const Pairs pairs;
    constexpr std::size_t width = hn::MaxLanes(Pairs());
    // Several chains at a time: each waits for its products.
    constexpr std::size_t chains = std::min<std::size_t>(4, counters / width);
    const auto c = hn::Set(pairs, purpose), d = hn::ShiftRight<32>(c);
    for (std::size_t i = 0; i < counters; i += chains * width) {
        std::array<Counters, chains> chain;
#pragma GCC unroll 4
        for (std::size_t k = 0; k < chains; ++k) {
            const auto a = hn::Add(hn::Iota(pairs, 0), hn::Set(pairs, first + i + k * width));
            chain[k] = {a, hn::ShiftRight<32>(a), c, d};
        }
        // Unrolled, the moves between rounds vanish: a quarter less time a draw.
#pragma GCC unroll 10
        for (std::size_t round = 0; round < 10; ++round)
#pragma GCC unroll 4
            for (std::size_t k = 0; k < chains; ++k) chain[k].next(keys, round);
#pragma GCC unroll 4
        for (std::size_t k = 0; k < chains; ++k) chain[k].store(&group.words[2 * (i + k * width)]);
    }
}
#endif

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
    const auto odd = hn::Or(hn::ShiftRight<1>(bits), hn::Set(Words(), 1));
    const auto scaled = hn::BitCast(n, hn::ConvertTo(f, hn::BitCast(n, odd)));  // 2^31 u
    // u = 2^e (1 + x), x between sqrt(1/2) - 1 and sqrt(2) - 1.
    constexpr std::int32_t root_half = 0x3F3504F3;
    const auto above = hn::Sub(scaled, hn::Set(n, root_half + (31 << 23)));
    const auto e = hn::ShiftRight<23>(above);
    const auto one_x = hn::Add(hn::And(above, hn::Set(n, 0x7FFFFF)), hn::Set(n, root_half));
    const auto x = hn::Sub(hn::BitCast(f, one_x), hn::Set(f, 1.0F));
    // -2 ln(1 + x) / x to 2.1e-7; by pairs, as one chain would wait for each of its steps.
    const auto xx = hn::Mul(x, x);
    const auto p01 = polynomial(x, -1.99999988F, 1.00000751F);
    const auto p23 = polynomial(x, -0.666692138F, 0.499378145F);
    const auto p45 = polynomial(x, -0.398266971F, 0.345564127F);
    const auto p67 = polynomial(x, -0.322524965F, 0.197907016F);
    const auto low = hn::Add(p01, hn::Mul(xx, p23)), high = hn::Add(p45, hn::Mul(xx, p67));
    const auto ratio = hn::Add(low, hn::Mul(hn::Mul(xx, xx), high));
    return hn::Add(hn::Mul(hn::ConvertTo(f, e), hn::Set(f, -1.38629436F)), hn::Mul(x, ratio));
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

struct Pair {
    hn::Vec<Floats> one, other;
};

/// Radius times cosine and sine of an angle that is uniform over the full turn: 23 bits say where in a
/// quarter of it, two exchange cosine and sine or turn both about.
HWY_INLINE Pair turned(hn::Vec<Floats> radius, hn::Vec<Words> bits) {
    const Floats f;
    const Words w;
    const auto from_two_to_four = hn::Or(hn::And(bits, hn::Set(w, 0x7FFFFFu)), hn::Set(w, 0x40000000u));
    const auto x = hn::Sub(hn::BitCast(f, from_two_to_four), hn::Set(f, 3.0F));
    const auto xx = hn::Mul(x, x);
    // Sine to 3.4e-8 and cosine to 7.6e-8 of pi x/4.
    const auto sine =
        hn::Mul(x, polynomial(xx, 0.785398185F, -0.0807454363F, 0.00249000685F, -3.59542901e-05F));
    const auto cosine = polynomial(xx, 1.0F, -0.308424264F, 0.0158499107F, -0.000318877486F);
    const auto exchange = hn::RebindMask(f, hn::TestBit(bits, hn::Set(w, 0x40000000u)));
    const auto r = hn::Xor(radius, hn::BitCast(f, hn::And(bits, hn::Set(w, 0x80000000u))));
    return {hn::Mul(r, hn::IfThenElse(exchange, sine, cosine)),
            hn::Mul(r, hn::IfThenElse(exchange, cosine, sine))};
}

/// What a scaled draw is added to: what stands there already,
struct Sum {
    template <class D>
    HWY_INLINE hn::Vec<D> operator()(D d, const double* at) const {
        return hn::LoadU(d, at);
    }
};
/// or one number.
struct Centre {
    double value;
    template <class D>
    HWY_INLINE hn::Vec<D> operator()(D d, const double*) const {
        return hn::Set(d, value);
    }
};

/// Puts base + scale * draw for the trials of a group, of which `out` may begin and end inside.
template <std::size_t size, class Base, class Draw>
HWY_INLINE void for_groups(const Stream& stream, std::uint64_t first, const Base& base, double scale,
                           std::span<double> out, const Draw& draw) {
    const Doubles doubles;
    const hn::CappedTag<double, 1> single;
    const hn::Rebind<float, Doubles> floats;
    const std::size_t width = hn::Lanes(doubles);
    const auto factor = hn::Set(doubles, scale);
    const Keys keys(stream.seed);
    Group group;
    HWY_ALIGN std::array<float, size> draws;
    for (std::size_t at = 0; at < out.size();) {
        const std::uint64_t number = (first + at) / size;
        const std::size_t skip = static_cast<std::size_t>((first + at) % size);
        const std::size_t take = std::min(size - skip, out.size() - at);
        fill(group, keys, stream.purpose, number * counters);
        draw(group, draws);
        double* const to = out.data() + at;
        if (take == size) {
            for (std::size_t i = 0; i < size; i += width) {
                const auto x = hn::PromoteTo(doubles, hn::Load(floats, &draws[i]));
                hn::StoreU(hn::Add(base(doubles, to + i), hn::Mul(factor, x)), doubles, to + i);
            }
        } else {
            for (std::size_t i = 0; i < take; ++i) {
                const auto x = hn::Set(single, scale * static_cast<double>(draws[skip + i]));
                hn::StoreU(hn::Add(base(single, to + i), x), single, to + i);
            }
        }
        at += take;
    }
}

template <class Base>
HWY_INLINE void normal_on(const Base& base, const Stream& stream, std::uint64_t first, double scale,
                          std::span<double> out) {
    for_groups<4 * counters>(stream, first, base, scale, out,
                             [](const Group& group, std::array<float, 4 * counters>& draws) HWY_ATTR {
                                 const Words words;
#pragma GCC unroll 4  // then GCC lays the steps of several side by side
                                 for (std::size_t i = 0; i < 2 * counters; i += hn::Lanes(words)) {
                                     const Pair draw =
                                         turned(hn::Sqrt(minus_two_log(hn::Load(words, &group.words[i]))),
                                                hn::Load(words, &group.words[2 * counters + i]));
                                     hn::Store(draw.one, Floats(), &draws[i]);
                                     hn::Store(draw.other, Floats(), &draws[2 * counters + i]);
                                 }
                             });
}

void add_normal(const Stream& stream, std::uint64_t first, double scale, std::span<double> sum) {
    normal_on(Sum{}, stream, first, scale, sum);
}

void draw_normal(const Stream& stream, std::uint64_t first, double mean, double deviation,
                 std::span<double> out) {
    normal_on(Centre{mean}, stream, first, deviation, out);
}

void students_t(const Stream& stream, std::uint64_t first, double degrees_of_freedom, double scale,
                std::span<double> sum) {
    const float v = static_cast<float>(degrees_of_freedom),
                inverse = static_cast<float>(1 / degrees_of_freedom);
    for_groups<2 * counters>(
        stream, first, Sum{}, scale, sum,
        [=](const Group& group, std::array<float, 2 * counters>& draws) HWY_ATTR {
            const Words words;
            const Floats f;
            for (std::size_t i = 0; i < 2 * counters; i += hn::Lanes(words)) {
                const auto w = minus_two_log(hn::Load(words, &group.words[i]));
                const auto square = hn::Mul(hn::Set(f, v), exp_less_one(hn::Mul(w, hn::Set(f, inverse))));
                const Pair draw = turned(hn::Sqrt(square), hn::Load(words, &group.words[2 * counters + i]));
                hn::Store(draw.one, f, &draws[i]);
            }
        });
}

void uniform(const Stream& stream, std::uint64_t first, double scale, std::span<double> sum) {
    constexpr std::size_t size = 2 * counters;
    const Keys keys(stream.seed);
    Group group;
    for (std::size_t at = 0; at < sum.size();) {
        const std::uint64_t number = (first + at) / size;
        const std::size_t skip = static_cast<std::size_t>((first + at) % size);
        const std::size_t take = std::min(size - skip, sum.size() - at);
        fill(group, keys, stream.purpose, number * counters);
        for (std::size_t i = 0; i < take; ++i) {
            const std::uint64_t bits =
                std::uint64_t{group.words[2 * (skip + i) + 1]} << 32 | group.words[2 * (skip + i)];
            sum[at + i] += scale * (static_cast<double>(bits >> 12) * 0x1p-52 + 0x1p-53);
        }
        at += take;
    }
}

void words(const Stream& stream, std::uint64_t first, std::span<std::uint32_t> out) {
    const Keys keys(stream.seed);
    Group group;
    for (std::size_t at = 0; at < out.size(); at += 4 * counters) {
        fill(group, keys, stream.purpose, first + at / 4);
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
HWY_EXPORT(add_normal);
HWY_EXPORT(draw_normal);
HWY_EXPORT(students_t);

void random_words(const Stream& stream, std::uint64_t first, std::span<std::uint32_t> out) {
    HWY_DYNAMIC_DISPATCH(words)(stream, first, out);
}

void add_uniform(const Stream& stream, std::uint64_t first, double scale, std::span<double> sum) {
    HWY_DYNAMIC_DISPATCH(uniform)(stream, first, scale, sum);
}

void add_normal(const Stream& stream, std::uint64_t first, double scale, std::span<double> sum) {
    HWY_DYNAMIC_DISPATCH(add_normal)(stream, first, scale, sum);
}

void draw_normal(const Stream& stream, std::uint64_t first, double mean, double deviation,
                 std::span<double> out) {
    HWY_DYNAMIC_DISPATCH(draw_normal)(stream, first, mean, deviation, out);
}

void add_students_t(const Stream& stream, std::uint64_t first, double degrees_of_freedom, double scale,
                    std::span<double> sum) {
    if (!(degrees_of_freedom >= 1)) throw std::invalid_argument("Student's t below one degree of freedom");
    HWY_DYNAMIC_DISPATCH(students_t)(stream, first, degrees_of_freedom, scale, sum);
}

}  // namespace ebbtide::lanes
#endif
