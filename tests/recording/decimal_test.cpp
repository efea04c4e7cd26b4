// Every number reads back bit for bit as strtod reads it.

#include <fmt/format.h>
#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include <bit>
#include <cmath>
#include <cstdlib>
#include <string>

#include "recording/decimal.hpp"

namespace ebbtide::recording {

namespace {

struct Read {
    NumberState state;
    double value;
    std::size_t length;
};

Read read(std::string text, char sign = '.') {
    const std::size_t size = text.size();
    text.append(decimal_padding, '\0');
    const char* p = text.data();
    Read out{NumberState::none, 0, 0};
    out.state = read_decimal(p, sign, out.value);
    out.length = static_cast<std::size_t>(p - text.data());
    EXPECT_LE(out.length, size);
    return out;
}

void expect_as_strtod(const std::string& text) {
    const double expected = std::strtod(text.c_str(), nullptr);
    const Read got = read(text);
    if (std::isinf(expected)) {
        RC_ASSERT(got.state == NumberState::too_large);
        return;
    }
    RC_ASSERT(got.state == NumberState::number);
    RC_ASSERT(got.length == text.size());
    RC_ASSERT(std::bit_cast<std::uint64_t>(got.value) == std::bit_cast<std::uint64_t>(expected));
}

double any_double() {
    const double value = std::bit_cast<double>(*rc::gen::arbitrary<std::uint64_t>());
    return std::isfinite(value) ? value : 0.5;
}

}  // namespace

RC_GTEST_PROP(Decimal, ReadsAnyDoubleInAnyPrintingAsStrtodDoes, ()) {
    const double value = any_double();
    for (const char* how : {"{:.17g}", "{:g}", "{}", "{:.6f}", "{:.3e}", "{:+.9E}"})
        expect_as_strtod(fmt::format(fmt::runtime(how), value));
}
RC_GTEST_PROP(Decimal, ReadsVoltagesOfAnyPrecisionAsStrtodDoes, (std::int32_t number)) {
    const int places = *rc::gen::inRange(0, 12);
    expect_as_strtod(fmt::format("{:.{}f}", number / 1e4, places));
}
RC_GTEST_PROP(Decimal, ReadsAnyStringOfDigitsAsStrtodDoes, ()) {
    const auto digits = [](int most) {
        std::string out;
        for (const int d : *rc::gen::container<std::vector<int>>(rc::gen::inRange(0, 10)))
            out += static_cast<char>('0' + d);
        return out.substr(0, static_cast<std::size_t>(most));
    };
    std::string text = digits(40) + "7." + digits(40);
    if (*rc::gen::arbitrary<bool>()) text += fmt::format("e{}", *rc::gen::inRange(-400, 400));
    expect_as_strtod(text);
}

TEST(Decimal, StopsBehindTheNumber) {
    EXPECT_EQ(read("12;34").length, 2u);
    EXPECT_EQ(read("1,5").length, 1u);
    EXPECT_EQ(read("1,5", ',').value, 1.5);
    EXPECT_EQ(read("12e").length, 2u);
    EXPECT_EQ(read("12e+").length, 2u);
    EXPECT_EQ(read("5.").value, 5);
    EXPECT_EQ(read(".5").value, 0.5);
}
TEST(Decimal, FindsNoNumberInWords) {
    for (const char* text : {"", "-", "+", ".", "-.", "e5", "nan", "inf", "-inf", "x1", " 1"})
        EXPECT_EQ(read(text).state, NumberState::none) << text;
}
TEST(Decimal, NeverReturnsInfinity) {
    for (const char* text : {"1e400", "-1e400", "1e309", "1e99999999999", "0.1e310"})
        EXPECT_EQ(read(text).state, NumberState::too_large) << text;
    EXPECT_EQ(read("1" + std::string(400, '0')).state, NumberState::too_large);
}
TEST(Decimal, ReadsWhatIsTooSmallAsZero) {
    for (const char* text : {"1e-400", "0.1e-330", "1e-99999999999"}) {
        EXPECT_EQ(read(text).state, NumberState::number) << text;
        EXPECT_EQ(read(text).value, 0) << text;
    }
    EXPECT_TRUE(std::signbit(read("-1e-400").value));
    EXPECT_EQ(read("0." + std::string(400, '0') + "1").value, 0);
    EXPECT_EQ(read("1" + std::string(400, '0') + "e-400").value, 1);
}

}  // namespace ebbtide::recording
