#pragma once
// What a validation found, where and when.

#include <algorithm>
#include <string>
#include <vector>

#include "basis/instant.hpp"
#include "validation/check.hpp"

namespace ebbtide::validation {

/// What the figures were worked out by: another of these and the validation is another's.
struct Computer {
    std::string name;              ///< as the computer calls itself
    std::string program;           ///< "ebbtide 0.1.0"
    std::string program_sha256;    ///< of the program file that ran; empty where it cannot be read
    std::string compiler;          ///< "g++ 12.2.0"
    std::string processor;         ///< as the operating system names it
    std::string vector_target;     ///< instruction set that the vector code ran on: "AVX2"
    std::string operating_system;  ///< distribution, kernel, architecture
};

struct Validation {
    Instant made;
    Computer computer;
    std::vector<Checked> checked;

    [[nodiscard]] std::size_t disagreeing() const {
        return static_cast<std::size_t>(std::ranges::count(checked, false, &Checked::agrees));
    }
    /// Without a check nothing is shown.
    [[nodiscard]] bool all_agree() const { return !checked.empty() && disagreeing() == 0; }
};

}  // namespace ebbtide::validation
