#include "work/known_numbers.hpp"

#include <fmt/format.h>

#include <bit>
#include <stdexcept>

#include "recording/decimal.hpp"

namespace ebbtide::work {
namespace {

std::string bits_of(std::string text, char decimal_sign) {
    text.append(recording::decimal_padding, '\0');
    const char* at = text.data();
    double value = 0;
    if (recording::read_decimal(at, decimal_sign, value) != recording::NumberState::number)
        throw std::runtime_error("is not read as a number");
    return fmt::format("{:016x}", std::bit_cast<std::uint64_t>(value));
}

}  // namespace

std::vector<validation::Check> reading_checks() {
    struct Known {
        const char* what;
        const char* text;
        char decimal_sign;
        const char* bits;
    };
    std::vector<validation::Check> checks;
    for (const Known& known :
         {Known{"a plain decimal", "0.1", '.', "3fb999999999999a"},
          Known{"with a decimal comma", "0,1", ',', "3fb999999999999a"},
          Known{"with an exponent", "123456.789e-3", '.', "405edd3c07ee0b0b"},
          Known{"half-way, to the even one", "9007199254740993", '.', "4340000000000000"},
          Known{"half-way, more digits than a double", "6929495644600919.5", '.', "43389e56ee5e7a58"},
          Known{"hard to round", "3.518437208883201171875E13", '.', "42c0000000000002"},
          Known{"the largest", "1.7976931348623157e308", '.', "7fefffffffffffff"},
          Known{"the largest subnormal", "2.2250738585072011e-308", '.', "000fffffffffffff"},
          Known{"the smallest", "4.9e-324", '.', "0000000000000001"}})
        checks.push_back({"Numbers read from text", fmt::format("bits of {} ({})", known.text, known.what),
                          "IEEE 754: the nearest double, ties to even; bits by Python 3.11", known.bits, "",
                          [known] { return bits_of(known.text, known.decimal_sign); }});
    return checks;
}

}  // namespace ebbtide::work
