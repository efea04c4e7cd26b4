#include "lanes/alike_decimals.hpp"

#include <cstring>

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "lanes/alike_decimals.cpp"
#include <hwy/foreach_target.h>
#include <hwy/highway.h>

HWY_BEFORE_NAMESPACE();
namespace ebbtide::lanes::HWY_NAMESPACE {

#if HWY_TARGET == HWY_SCALAR

/// Without vectors the caller's own way is as quick.
std::size_t rows(const char*, const char*, const DecimalPattern*, std::size_t, const RowShape&, double*,
                 std::size_t) {
    return 0;
}

#else

namespace hn = hwy::HWY_NAMESPACE;

/// The digits that the pattern takes from the sixteen bytes at `text`; false when one of them is no digit.
HWY_INLINE bool digits_at(const char* text, const DecimalPattern& pattern, std::uint64_t& number) {
    const hn::FixedTag<std::uint8_t, 16> bytes;
    const hn::FixedTag<std::uint16_t, 8> pairs;
    const hn::FixedTag<std::uint32_t, 4> fours;
    const hn::FixedTag<std::uint64_t, 2> eights;
    const auto raw = hn::LoadU(bytes, reinterpret_cast<const std::uint8_t*>(text));
    const auto digits = hn::TableLookupBytesOr0(hn::Sub(raw, hn::Set(bytes, std::uint8_t{'0'})),
                                                hn::Load(bytes, pattern.take.data()));
    if (!hn::AllTrue(bytes, hn::Eq(hn::Min(digits, hn::Set(bytes, std::uint8_t{9})), digits))) return false;
    // Neighbours are joined three times: digits to 99, to 9999, to 99999999; the earlier one lies lower.
    const auto ones = hn::BitCast(pairs, digits);
    const auto twos = hn::Add(
        hn::Mul(hn::And(ones, hn::Set(pairs, std::uint16_t{0xFF})), hn::Set(pairs, std::uint16_t{10})),
        hn::ShiftRight<8>(ones));
    const auto weighed =
        hn::BitCast(fours, hn::Mul(twos, hn::BitCast(pairs, hn::Set(fours, std::uint32_t{0x00010064}))));
    const auto joined =
        hn::Add(hn::And(weighed, hn::Set(fours, std::uint32_t{0xFFFF})), hn::ShiftRight<16>(weighed));
    HWY_ALIGN std::uint64_t halves[2];
    hn::Store(hn::BitCast(eights, joined), eights, halves);
    const auto eight = [](std::uint64_t half) { return (half & 0xFFFFFFFF) * 10'000 + (half >> 32); };
    number = eight(halves[0]) * 100'000'000 + eight(halves[1]);
    return true;
}

std::size_t rows(const char* text, const char* end, const DecimalPattern* columns, std::size_t width,
                 const RowShape& shape, double* out, std::size_t most) {
    const char* p = text;
    std::size_t row = 0;
    for (; row < most && p < end; ++row) {
        for (std::size_t i = 0; i < width; ++i) {
            const DecimalPattern& pattern = columns[i];
            if ((*p == '-') != pattern.minus) return row;
            const char* const digits = p + (pattern.minus ? 1 : 0);
            if (pattern.point && digits[pattern.whole] != shape.decimal_sign) return row;
            std::uint64_t number = 0;
            if (!digits_at(digits, pattern, number)) return row;
            // At most 15 digits: the integer and the power of ten are exact, and the division rounds once.
            const double size = static_cast<double>(static_cast<std::int64_t>(number)) / pattern.divisor;
            out[row * width + i] = pattern.minus ? -size : size;
            p += pattern.bytes;
            if (i + 1 < width && *p++ != shape.delimiter) return row;
        }
        if (*p++ != shape.row_end[0]) return row;
        if (shape.row_end.size() == 2 && *p++ != shape.row_end[1]) return row;
    }
    return row;
}

#endif

}  // namespace ebbtide::lanes::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace ebbtide::lanes {

HWY_EXPORT(rows);

DecimalPattern::DecimalPattern(bool has_minus, int whole_digits, bool has_point, int fraction_digits)
    : minus(has_minus), point(has_point), whole(static_cast<std::size_t>(whole_digits)), divisor(1) {
    const auto fraction = static_cast<std::size_t>(fraction_digits);
    bytes = (minus ? 1 : 0) + whole + (point ? 1 : 0) + fraction;
    for (std::size_t k = 0; k < fraction; ++k) divisor *= 10;
    take.fill(0x80);
    const std::size_t total = whole + fraction;
    for (std::size_t k = 0; k < total; ++k)
        take[16 - total + k] = static_cast<std::uint8_t>(k < whole || !point ? k : k + 1);
}

std::size_t read_alike_rows(std::string_view text, std::span<const DecimalPattern> columns,
                            const RowShape& shape, double* out, std::size_t most) {
    return HWY_DYNAMIC_DISPATCH(rows)(text.data(), text.data() + text.size(), columns.data(), columns.size(),
                                      shape, out, most);
}

}  // namespace ebbtide::lanes
#endif
