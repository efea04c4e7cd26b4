#pragma once
// Decimal numbers to doubles, bit for bit as strtod reads them, without a locale.
//
// Plain decimals take the exact path: up to 19 digits are gathered eight at a time into an integer; when that
// is below 2^53 and the power of ten within 10^22, both are exact doubles and one multiplication or division
// rounds once (Clinger, "How to read floating point numbers accurately", 1990). The rest goes to
// std::from_chars.

#include <array>
#include <bit>
#include <cstdint>
#include <cstring>

namespace ebbtide::recording {

/// At least this many readable bytes must follow the last byte of the text given to read_decimal().
inline constexpr std::size_t decimal_padding = 16;

enum class NumberState {
    number,     ///< read
    none,       ///< no number starts here
    too_large,  ///< a number beyond the largest double; never infinity
};

namespace detail {

inline constexpr std::array<std::uint64_t, 9> ten_to = {1,       10,        100,        1'000,      10'000,
                                                        100'000, 1'000'000, 10'000'000, 100'000'000};
inline constexpr std::array<double, 23> exact_ten_to = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                                        1e8,  1e9,  1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
                                                        1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};

static_assert(std::endian::native == std::endian::little, "read_digits takes the first byte as the lowest");

// The eight bytes at `p`, digits as 0 to 9, the first byte lowest.
inline std::uint64_t eight_bytes(const char* p) {
    std::uint64_t bytes;
    std::memcpy(&bytes, p, 8);
    return bytes ^ 0x3030303030303030;
}
// Non-zero in the first byte that is no digit: neither a digit nor a digit plus 6 reaches the upper half of
// its byte. A carry only reaches bytes behind the first that is no digit.
inline std::uint64_t no_digits(std::uint64_t bytes) {
    return (bytes | (bytes + 0x0606060606060606)) & 0xF0F0F0F0F0F0F0F0;
}
// The number that the first `count` (1 to 8) bytes make.
inline std::uint64_t number_of(std::uint64_t bytes, int count) {
    std::uint64_t digits = bytes << (64 - 8 * count);  // leading zeros in front
    digits = (digits * 10) + (digits >> 8);
    return (((digits & 0x000000FF000000FF) * 0x000F424000000064) +
            (((digits >> 16) & 0x000000FF000000FF) * 0x0000271000000001)) >>
           32;
}

// Reads the digits at `p`; wraps modulo 2^64 beyond 19 of them, which the caller notices by their count.
inline const char* read_digits(const char* p, std::uint64_t& number) {
    for (;;) {
        const std::uint64_t bytes = eight_bytes(p);
        const std::uint64_t other = no_digits(bytes);
        const int count = other == 0 ? 8 : std::countr_zero(other) / 8;
        if (count == 0) return p;
        number = number * ten_to[static_cast<std::size_t>(count)] + number_of(bytes, count);
        p += count;
        if (count < 8) return p;
    }
}

NumberState read_by_the_long_way(const char* start, const char* end, char decimal_sign, double& value);

}  // namespace detail

/// Reads [+-]digits[sign digits][(e|E)[+-]digits] at `p` and moves `p` behind it. At least one digit; ".5"
/// and "5." are numbers. What follows the number is the caller's to judge.
inline NumberState read_decimal(const char*& p, char decimal_sign, double& value) {
    const char* const start = p;
    const char* q = p;
    const bool negative = *q == '-';
    if (negative || *q == '+') ++q;
    std::uint64_t number = 0;
    const char* const whole = q;
    q = detail::read_digits(q, number);
    long digits = q - whole;
    long exponent = 0;
    if (*q == decimal_sign) {
        const char* const fraction = ++q;
        q = detail::read_digits(q, number);
        exponent = fraction - q;
        digits -= exponent;
    }
    if (digits == 0) return NumberState::none;
    if (*q == 'e' || *q == 'E') {
        const char* e = q + 1;
        const bool below = *e == '-';
        if (below || *e == '+') ++e;
        if (*e >= '0' && *e <= '9') {
            long power = 0;
            for (; *e >= '0' && *e <= '9'; ++e) power = power < 100'000 ? power * 10 + (*e - '0') : power;
            exponent += below ? -power : power;
            q = e;
        }
    }
    p = q;
    if (digits > 19 || number >= (std::uint64_t{1} << 53) || exponent < -22 || exponent > 22)
        return detail::read_by_the_long_way(start, q, decimal_sign, value);
    const double whole_number = static_cast<double>(static_cast<std::int64_t>(number));
    const double size = exponent < 0
                            ? whole_number / detail::exact_ten_to[static_cast<std::size_t>(-exponent)]
                            : whole_number * detail::exact_ten_to[static_cast<std::size_t>(exponent)];
    value = negative ? -size : size;
    return NumberState::number;
}

/// How a plain decimal was written: its next neighbour in the column is most often written alike. Knowing
/// where a number ends before having looked at it lets the processor work on several at once.
struct DecimalShape {
    int whole = 0;     ///< digits before the sign, 1 to 8; 0: no shape is known
    int fraction = 0;  ///< digits behind it, 0 to 14
    int minus = 0;     ///< 1 when a minus stands in front
    int point = 0;     ///< 1 when there is a decimal sign
    int distrust = 0;  ///< cells to come that are read without it, since the last ones differed

    /// Takes the shape of the number between `start` and `end`; whole = 0 when it is none of the plain ones.
    void learn(const char* start, const char* end, char decimal_sign) {
        distrust = distrust < 64 ? distrust + 16 : 64;
        const char* p = start;
        minus = *p == '-' ? 1 : 0;
        p += minus;
        const char* const digits = p;
        while (*p >= '0' && *p <= '9') ++p;
        whole = static_cast<int>(p - digits);
        point = *p == decimal_sign ? 1 : 0;
        p += point;
        fraction = static_cast<int>(end - p);
        const bool plain =
            whole >= 1 && whole <= 8 && fraction >= 0 && whole + fraction <= 15 && (point == 1 || p == end);
        for (; p < end && plain; ++p)
            if (*p < '0' || *p > '9') break;
        if (!plain || p != end) whole = 0;
    }
};

/// Reads a number written in this shape; false when it is not. The caller checks that it ends there.
inline bool read_alike(const char*& p, const DecimalShape& shape, char decimal_sign, double& value) {
    const auto digits_of = [](int count) { return ~std::uint64_t{0} >> (64 - 8 * count); };
    if ((*p == '-') != (shape.minus != 0)) return false;
    const char* q = p + shape.minus;
    std::uint64_t bytes = detail::eight_bytes(q);
    if ((detail::no_digits(bytes) & digits_of(shape.whole)) != 0) return false;
    std::uint64_t number = detail::number_of(bytes, shape.whole);
    q += shape.whole;
    if (shape.point != 0) {
        if (*q != decimal_sign) return false;
        ++q;
        for (int left = shape.fraction; left > 0; left -= 8) {
            const int count = left < 8 ? left : 8;
            bytes = detail::eight_bytes(q);
            if ((detail::no_digits(bytes) & digits_of(count)) != 0) return false;
            number =
                number * detail::ten_to[static_cast<std::size_t>(count)] + detail::number_of(bytes, count);
            q += count;
        }
    }
    // At most 15 digits: the integer and the power of ten are exact.
    const double size = static_cast<double>(static_cast<std::int64_t>(number)) /
                        detail::exact_ten_to[static_cast<std::size_t>(shape.fraction)];
    value = shape.minus != 0 ? -size : size;
    p = q;
    return true;
}

}  // namespace ebbtide::recording
