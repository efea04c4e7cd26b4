#include "plan/level.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "basis/number_text.hpp"

namespace ebbtide::plan {
namespace {

bool drop_suffix(std::string_view& text, std::string_view suffix) {
    if (!text.ends_with(suffix)) return false;
    text = without_spaces_around(text.substr(0, text.size() - suffix.size()));
    return true;
}

}  // namespace

std::string Level::label() const {
    if (kind == Kind::absolute_V) return shortest_text(value) + " V";
    if (text == "1/e") return text;
    // Through ten digits: 0.07 * 100 is not 7 in binary.
    return fmt::format("{:.10g} %", value * 100);
}

void add_once(std::vector<Level>& levels, const Level& level) {
    if (std::ranges::none_of(levels, [&](const Level& one) { return one.same_as(level); }))
        levels.push_back(level);
}

Result<Level> parse_level(std::string_view text) {
    const Error wrong{
        Fault::bad_input, fmt::format("'{}' is not a decay level", text), "",
        "Give a fraction from 0 up to but not 1 (0.1, 10%, 1/e) or a voltage above zero (500 V, 0.5 kV)"};
    std::string_view rest = without_spaces_around(text);
    Level level;
    level.text = std::string(rest);
    if (rest == "1/e") {
        level.value = 1 / std::numbers::e;
        return level;
    }
    double scale = 1;
    if (drop_suffix(rest, "%")) {
        scale = 0.01;
    } else if (drop_suffix(rest, "kV")) {
        level.kind = Level::Kind::absolute_V;
        scale = 1000;
    } else if (drop_suffix(rest, "V")) {
        level.kind = Level::Kind::absolute_V;
    }
    const auto number = parse_number(rest);
    if (!number) return wrong;
    level.value = scale == 0.01 ? *number / 100 : *number * scale;
    const bool in_range = level.kind == Level::Kind::fraction ? level.value >= 0 && level.value < 1
                                                              : level.value > 0 && std::isfinite(level.value);
    if (!in_range) return wrong;
    return level;
}

std::string_view name_of(InitialBasis basis) {
    switch (basis) {
        case InitialBasis::hold_mean:
            return "hold_mean";
        case InitialBasis::charging_maximum:
            return "charging_maximum";
        case InitialBasis::nominal:
            return "nominal";
        case InitialBasis::without_specimen:
            return "without_specimen";
    }
    return "";
}

}  // namespace ebbtide::plan
