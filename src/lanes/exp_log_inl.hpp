// e^v and ln v of a vector, for the kernels of this folder. Included once for each instruction set, so the
// guard turns with Highway's.
#if defined(EBBTIDE_LANES_EXP_LOG) == defined(HWY_TARGET_TOGGLE)
#ifdef EBBTIDE_LANES_EXP_LOG
#undef EBBTIDE_LANES_EXP_LOG
#else
#define EBBTIDE_LANES_EXP_LOG
#endif

#include <hwy/highway.h>

#include <cstdint>
#include <limits>

HWY_BEFORE_NAMESPACE();
namespace ebbtide::lanes::HWY_NAMESPACE {

// ln 2 in two parts; the upper one ends in zeros, so that its product with an exponent is exact.
constexpr double ln2_high = 0x1.62e42feep-1, ln2_low = 0x1.a39ef35793c76p-33;
constexpr double to_integer = 0x1.8p52;  // added to a small number, leaves it as an integer in the low bits

/// e^v 2^-less, for v from -701 to 710 as long as the result is an ordinary number; not NaN. v = k ln 2 + r,
/// e^v = 2^k e^r. The polynomial is (e^r - 1 - r) / r^2
/// through Chebyshev's points of |r| <= ln 2 / 2, off by 2e-17 of e^r (computed with 50 digits).
template <int less = 0, class D>
HWY_INLINE hwy::HWY_NAMESPACE::Vec<D> exp_within(D d, hwy::HWY_NAMESPACE::Vec<D> v) {
    namespace hn = hwy::HWY_NAMESPACE;
    const auto set = [&](double number) { return hn::Set(d, number); };
    const hn::RebindToSigned<D> integers;
    const auto shifted = hn::MulAdd(v, set(0x1.71547652b82fep0), set(to_integer));
    const auto k = hn::Sub(shifted, set(to_integer));
    const auto r = hn::NegMulAdd(k, set(ln2_low), hn::NegMulAdd(k, set(ln2_high), v));
    const auto r2 = hn::Mul(r, r), r4 = hn::Mul(r2, r2), r8 = hn::Mul(r4, r4);
    const auto p01 = hn::MulAdd(r, set(0x1.5555555555556p-3), set(0x1.0000000000001p-1));
    const auto p23 = hn::MulAdd(r, set(0x1.11111111109b3p-7), set(0x1.5555555553d63p-5));
    const auto p45 = hn::MulAdd(r, set(0x1.a01a01a7c41d5p-13), set(0x1.6c16c1788bd90p-10));
    const auto p67 = hn::MulAdd(r, set(0x1.71de0dae63bb3p-19), set(0x1.a019b90d2ae7ap-16));
    const auto p89 = hn::MulAdd(r, set(0x1.af38a9b0ec855p-26), set(0x1.289185613a3d6p-22));
    const auto low = hn::MulAdd(p23, r2, p01), middle = hn::MulAdd(p67, r2, p45);
    const auto p = hn::MulAdd(p89, r8, hn::MulAdd(middle, r4, low));
    const auto e_r = hn::Add(set(1), hn::MulAdd(p, r2, r));
    const auto exponent = hn::ShiftLeft<52>(hn::Sub(hn::BitCast(integers, shifted), hn::Set(integers, less)));
    return hn::BitCast(d, hn::Add(hn::BitCast(integers, e_r), exponent));
}

/// e^v for any v: 0 below -700, infinity from 710 on, NaN of NaN.
template <class D>
HWY_INLINE hwy::HWY_NAMESPACE::Vec<D> exp_of(D d, hwy::HWY_NAMESPACE::Vec<D> given) {
    namespace hn = hwy::HWY_NAMESPACE;
    const auto set = [&](double number) { return hn::Set(d, number); };
    // Min and Max may drop NaN; the last line brings it back.
    const auto v = hn::Max(hn::Min(given, set(710)), set(-701));
    // Half of it, so that the upper end of the exponents is not passed on the way.
    const auto half = exp_within<1>(d, v);
    const auto seen = hn::IfThenElse(hn::Lt(given, set(-700)), hn::Zero(d), hn::Add(half, half));
    return hn::IfThenElse(hn::Eq(given, given), seen, given);
}

/// v = 2^k (1 + f), 1 + f from sqrt(1/2) to sqrt(2), s = f / (2 + f): ln v = k ln 2 + 2 artanh s, arranged as
/// k ln 2 + f - (f^2/2 - s (f^2/2 + R)) so that f, which is exact, carries most. R = 2 artanh(s)/s - 2
/// through Chebyshev's points, off by 5e-18 (computed with 50 digits).
template <class D>
HWY_INLINE hwy::HWY_NAMESPACE::Vec<D> log_of(D d, hwy::HWY_NAMESPACE::Vec<D> v) {
    namespace hn = hwy::HWY_NAMESPACE;
    const auto set = [&](double number) { return hn::Set(d, number); };
    const hn::RebindToSigned<D> integers;
    const auto bits = hn::BitCast(integers, v);
    const auto root_half = hn::Set(integers, std::int64_t{0x3FE6A09E667F3BCD});
    const auto above = hn::Sub(bits, root_half);
    // Shifted as unsigned: what is asked of it lies above zero once the bias is back.
    const hn::RebindToUnsigned<D> naturals;
    const auto bias = hn::Set(integers, std::int64_t{1023} << 52);
    const auto biased_k =
        hn::BitCast(integers, hn::ShiftRight<52>(hn::BitCast(naturals, hn::Add(above, bias))));  // k + 1023
    const auto mantissa = hn::BitCast(
        d, hn::Sub(bits, hn::ShiftLeft<52>(hn::Sub(biased_k, hn::Set(integers, std::int64_t{1023})))));
    const auto k = hn::Sub(hn::BitCast(d, hn::Add(biased_k, hn::BitCast(integers, set(to_integer)))),
                           set(to_integer + 1023));
    const auto f = hn::Sub(mantissa, set(1));
    const auto s = hn::Div(f, hn::Add(f, set(2)));
    const auto z = hn::Mul(s, s), z2 = hn::Mul(z, z);
    const auto even =
        hn::MulAdd(hn::MulAdd(hn::MulAdd(z2, set(0x1.2b584aae78a57p-3), set(0x1.7462b4ab2ef6bp-3)), z2,
                              set(0x1.2492492df148dp-2)),
                   z2, set(0x1.5555555555558p-1));
    const auto odd = hn::MulAdd(hn::MulAdd(z2, set(0x1.39fe606542ddep-3), set(0x1.c71c62e5800a1p-3)), z2,
                                set(0x1.99999999952e2p-2));
    const auto R = hn::Mul(z, hn::MulAdd(odd, z, even));
    const auto half_square = hn::Mul(set(0.5), hn::Mul(f, f));
    const auto small = hn::MulAdd(s, hn::Add(half_square, R), hn::Mul(k, set(ln2_low)));
    const auto result = hn::MulAdd(k, set(ln2_high), hn::Sub(f, hn::Sub(half_square, small)));
    const auto infinite = set(std::numeric_limits<double>::infinity());
    const auto normal = hn::And(hn::Ge(v, set(std::numeric_limits<double>::min())), hn::Lt(v, infinite));
    const auto other =
        hn::IfThenElse(hn::Ge(v, infinite), v,
                       hn::IfThenElse(hn::Lt(v, hn::Zero(d)), set(std::numeric_limits<double>::quiet_NaN()),
                                      hn::Neg(infinite)));
    const auto seen = hn::IfThenElse(normal, result, other);
    return hn::IfThenElse(hn::Eq(v, v), seen, v);
}

}  // namespace ebbtide::lanes::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#endif
