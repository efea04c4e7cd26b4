#pragma once
// The five words of a statement of conformity (ILAC-G8:09/2019 words for the conditional ones).

#include <string_view>

namespace ebbtide::plan {

enum class Conformity { pass, conditional_pass, conditional_fail, fail, void_ };

[[nodiscard]] constexpr std::string_view name_of(Conformity conformity) {
    switch (conformity) {
        case Conformity::pass:
            return "pass";
        case Conformity::conditional_pass:
            return "conditional pass";
        case Conformity::conditional_fail:
            return "conditional fail";
        case Conformity::fail:
            return "fail";
        case Conformity::void_:
            return "void";
    }
    return "";
}

/// Of several that must all be met the gravest decides: 4 for fail, 3 for void (what is missing may hide a
/// fail), then conditional fail, conditional pass and pass.
[[nodiscard]] constexpr int gravity(Conformity conformity) {
    switch (conformity) {
        case Conformity::fail:
            return 4;
        case Conformity::void_:
            return 3;
        case Conformity::conditional_fail:
            return 2;
        case Conformity::conditional_pass:
            return 1;
        case Conformity::pass:
            return 0;
    }
    return 0;
}

}  // namespace ebbtide::plan
