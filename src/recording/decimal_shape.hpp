#pragma once
// How the last number of a column was written, and reading the next one by it.
//
// Most of the time of reading goes into finding where a number ends, before which the next cannot be begun.
// The numbers of a column are mostly written alike; then that end need not be sought, only checked, and the
// processor works on several numbers at once.

#include <cstdint>

#include "lanes/alike_decimals.hpp"
#include "recording/decimal.hpp"

namespace ebbtide::recording {

/// Sign, up to 8 digits, and up to 14 more behind a decimal sign, 15 in all: then the integer that the digits
/// make and the power of ten are exact doubles, and their quotient is rounded once.
class DecimalShape {
  public:
    [[nodiscard]] bool known() const { return words_ != 0; }

    /// Grows whenever another shape is taken.
    [[nodiscard]] std::uint64_t taken() const { return taken_; }
    [[nodiscard]] lanes::DecimalPattern pattern() const {
        return {minus_ != 0, whole_digits_, point_, fraction_digits_};
    }

    void fitted() { misses_ = 0; }
    /// Tells of a number, from `start` to `end`, that did not fit. Its shape is taken for the next one; in a
    /// column where each number is written otherwise the attempts pause.
    void missed(const char* start, const char* end, char decimal_sign) {
        if (pause_ > 0) {
            --pause_;
        } else if (++misses_ > 4) {
            misses_ = words_ = 0;
            pause_ = 64;
        } else {
            learn(start, end, decimal_sign);
        }
    }

    /// Reads a number of this shape at `p` and moves behind it; false when the bytes do not fit. More digits
    /// may follow: the caller checks that the cell ends there.
    bool read(const char*& p, char decimal_sign, double& value) const {
        const char* const fraction_at = p + fraction_at_;
        const std::uint64_t whole = detail::eight_bytes(p + minus_);
        const std::uint64_t fraction = detail::eight_bytes(fraction_at);
        std::uint64_t wrong = (detail::no_digits(whole) & whole_.mask) |
                              (detail::no_digits(fraction) & fraction_.mask) |
                              static_cast<std::uint64_t>((*p == '-') != (minus_ != 0));
        if (point_) wrong |= static_cast<std::uint64_t>(fraction_at[-1] != decimal_sign);
        std::uint64_t number;
        if (words_ == 1) {
            number = detail::number_of((whole << whole_.shift >> beside_) |
                                       ((fraction & fraction_.mask) << fraction_.shift));
        } else {
            number = detail::number_of(whole << whole_.shift) * fraction_.scale +
                     detail::number_of(fraction << fraction_.shift);
            if (words_ == 3) {
                const std::uint64_t rest = detail::eight_bytes(fraction_at + 8);
                wrong |= detail::no_digits(rest) & rest_.mask;
                number = number * rest_.scale + detail::number_of(rest << rest_.shift);
            }
        }
        if (wrong != 0) return false;
        const double size = static_cast<double>(static_cast<std::int64_t>(number)) / divisor_;
        value = minus_ != 0 ? -size : size;
        p += length_;
        return true;
    }

  private:
    void learn(const char* start, const char* end, char decimal_sign) {
        words_ = 0;
        ++taken_;
        const char* p = start;
        minus_ = *p == '-' ? 1 : 0;
        p += minus_;
        const char* const digits = p;
        while (p < end && *p >= '0' && *p <= '9') ++p;
        const auto whole = static_cast<int>(p - digits);
        point_ = p < end && *p == decimal_sign;
        if (point_) ++p;
        fraction_at_ = static_cast<int>(p - start);
        const char* const behind = p;
        while (p < end && *p >= '0' && *p <= '9') ++p;
        const auto fraction = static_cast<int>(p - behind);
        if (p != end || whole < 1 || whole > 8 || whole + fraction > 15 || (point_ && fraction == 0)) return;
        whole_digits_ = whole;
        fraction_digits_ = fraction;
        length_ = static_cast<int>(end - start);
        divisor_ = detail::exact_ten_to[static_cast<std::size_t>(fraction)];
        whole_ = First(whole);
        words_ = whole + fraction <= 8 ? 1 : fraction <= 8 ? 2 : 3;
        fraction_ = First(fraction <= 8 ? fraction : 8);
        rest_ = First(fraction <= 8 ? 0 : fraction - 8);
        beside_ = 8 * fraction % 64;
    }

    // The first `count` (0 to 8) of eight bytes.
    struct First {
        std::uint64_t mask = 0;
        std::uint64_t scale = 1;  // ten to the power of count
        int shift = 0;            // moves them to the end
        First() = default;
        explicit First(int count) {
            if (count == 0) return;
            mask = ~std::uint64_t{0} >> (64 - 8 * count);
            scale = detail::ten_to[static_cast<std::size_t>(count)];
            shift = 64 - 8 * count;
        }
    };

    int words_ = 0;   // of eight digits that take part; 0: no shape is known
    int misses_ = 0;  // since the last that fitted
    int pause_ = 0;   // numbers to come that teach nothing
    int minus_ = 0;   // 1 when a minus stands in front
    bool point_ = false;
    int fraction_at_ = 0, length_ = 0;
    int whole_digits_ = 0, fraction_digits_ = 0;
    std::uint64_t taken_ = 0;
    int beside_ = 0;  // with one word: makes room for the fraction behind the whole part
    First whole_, fraction_, rest_;
    double divisor_ = 1;
};

}  // namespace ebbtide::recording
