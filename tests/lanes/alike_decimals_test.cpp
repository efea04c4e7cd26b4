#include "lanes/alike_decimals.hpp"

#include <fmt/format.h>
#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <cstdlib>
#include <string>
#include <vector>

#include "support/every_target.hpp"

namespace ebbtide::lanes {
namespace {

using test::on_every_target;

constexpr std::size_t padding = 16;
const std::vector<DecimalPattern> time_and_voltage{{false, 1, true, 3}, {true, 4, true, 2}};

/// Reads in a buffer of its own that ends with the padding, so that a sanitizer sees every byte beyond it.
std::vector<double> read(const std::string& text, const std::vector<DecimalPattern>& columns,
                         const RowShape& shape = {',', '.', "\n"}, std::size_t most = 100) {
    std::vector<char> bytes(text.begin(), text.end());
    bytes.insert(bytes.end(), padding, '\0');
    std::vector<double> numbers(most * columns.size());
    numbers.resize(columns.size() *
                   read_alike_rows({bytes.data(), text.size()}, columns, shape, numbers.data(), most));
    return numbers;
}

/// A processor without vectors reads no row this way, and the caller reads them all.
bool has_no_vectors() {
    return hwy::SupportedTargets() == HWY_SCALAR;
}
void expect_rows(const std::vector<double>& got, const std::vector<double>& wanted) {
    EXPECT_EQ(got, has_no_vectors() ? std::vector<double>{} : wanted);
}

TEST(AlikeDecimals, ReadsRowsUntilOneIsWrittenDifferently) {
    const std::string begin = "0.001,-4987.25\n0.002,-4980.50\n";
    const std::vector<double> two{0.001, -4987.25, 0.002, -4980.5};
    on_every_target([&] {
        expect_rows(read(begin, time_and_voltage), two);
        for (const char* other :
             {"0.003,4980.50\n", "0.003,-980.50\n", "0.003,-4980.5\n", "0.003,-4980.500\n",
              "0.0031,-4980.50\n", "0.003;-4980.50\n", "0.003,-49x0.50\n", "0.003,-4980,50\n",
              " 0.003,-4980.50\n", "0.003,-4980.50\r\n", "0.003,-4980.50 \n", "0.003,-4980.50,1\n", "0.003\n",
              "\n", "-\n"})
            expect_rows(read(begin + other, time_and_voltage), two);
    });
}

TEST(AlikeDecimals, KnowsDecimalCommasAndOtherLineEnds) {
    on_every_target([] {
        expect_rows(read("1,5;-2000,25\r\n2,5;-1000,75\r\n", {{false, 1, true, 1}, {true, 4, true, 2}},
                         {';', ',', "\r\n"}),
                    {1.5, -2000.25, 2.5, -1000.75});
        expect_rows(read("12\r34\r", {{false, 2, false, 0}}, {'\0', '.', "\r"}), {12, 34});
    });
}

TEST(AlikeDecimals, StopsAtTheNumberOfRowsAskedFor) {
    on_every_target([] {
        expect_rows(read("1\n2\n3\n", {{false, 1, false, 0}}, {',', '.', "\n"}, 2), {1, 2});
    });
}

RC_GTEST_PROP(AlikeDecimals, RoundsAsStrtodDoes, ()) {
    const int fraction = *rc::gen::inRange(0, 15);
    const int whole = *rc::gen::inRange(1, 16 - fraction);
    const bool minus = *rc::gen::arbitrary<bool>();
    const auto digit = rc::gen::inRange('0', static_cast<char>('9' + 1));
    std::string text;
    std::vector<double> wanted;
    for (int row = 0; row < 5; ++row) {
        std::string number = minus ? "-" : "";
        number += *rc::gen::container<std::string>(static_cast<std::size_t>(whole), digit);
        if (fraction > 0)
            number += "." + *rc::gen::container<std::string>(static_cast<std::size_t>(fraction), digit);
        wanted.push_back(std::strtod(number.c_str(), nullptr));
        text += number + "\n";
    }
    on_every_target([&] {
        const auto got = read(text, {{minus, whole, fraction > 0, fraction}});
        RC_ASSERT(got == (has_no_vectors() ? std::vector<double>{} : wanted));
    });
}

}  // namespace
}  // namespace ebbtide::lanes
