#include <fmt/format.h>

#include <array>
#include <span>

#include "basis/sha256.hpp"
#include "lanes/exp_log.hpp"
#include "lanes/random.hpp"
#include "validation/checks.hpp"

namespace ebbtide::validation {
namespace {

const char* const subject = "Arithmetic";

std::string philox(std::uint64_t first, std::uint64_t purpose, std::uint64_t seed) {
    std::array<std::uint32_t, 4> words{};
    lanes::random_words({seed, purpose}, first, words);
    return fmt::format("{:08x} {:08x} {:08x} {:08x}", words[0], words[1], words[2], words[3]);
}

Check word(std::string name, const char* source, const char* printed, std::function<Answer()> ours) {
    return {subject, std::move(name), source, printed, "", std::move(ours)};
}

/// By the vectors of this processor; sixteen at once, so that the widest of them are filled.
double by_vectors(void (*function)(std::span<const double>, std::span<double>), double x) {
    std::array<double, 16> numbers;
    numbers.fill(x);
    function(numbers, numbers);
    return numbers[13];
}

Check figure(std::string name, const char* printed, std::function<Answer()> ours) {
    return {subject, std::move(name), "Abramowitz and Stegun, tables 1.1 and 4.2 (from memory)", printed,
            "",      std::move(ours), last_digits(2, "two units in the last place of a double")};
}

}  // namespace

std::vector<Check> arithmetic_checks() {
    const char* fips = "FIPS 180-4; examples of FIPS 180-2, B.1 to B.3";
    const char* random123 = "Random123, known answers of Philox 4x32-10";
    return {
        word("SHA-256 of \"abc\"", fips, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad",
             [] { return sha256_hex("abc"); }),
        word("SHA-256 of 448 bits", fips, "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1",
             [] { return sha256_hex("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq"); }),
        word("SHA-256 of a million \"a\"", fips,
             "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0",
             [] { return sha256_hex(std::string(1'000'000, 'a')); }),
        word("random words, all bits 0", random123, "6627e8d5 e169c58d bc57ac4c 9b00dbd8",
             [] { return philox(0, 0, 0); }),
        word("random words, all bits 1", random123, "408f276d 41c83b0e a20bc7c6 6d5451fd",
             [] { return philox(~0ull, ~0ull, ~0ull); }),
        word("random words, digits of pi", random123, "d16cfe09 94fdcceb 5001e420 24126ea1",
             [] { return philox(0x85a308d3243f6a88, 0x0370734413198a2e, 0x299f31d0a4093822); }),
        figure("e, by the vectors of this processor", "2.718281828459045",
               [] { return by_vectors(lanes::exp_all, 1); }),
        figure("ln 10, by the vectors of this processor", "2.302585092994046",
               [] { return by_vectors(lanes::log_all, 10); }),
    };
}

}  // namespace ebbtide::validation
