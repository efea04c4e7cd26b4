#include "plan/decision_rule.hpp"

#include <fmt/format.h>

#include "basis/number_text.hpp"

namespace ebbtide::plan {
namespace {

using Kind = DecisionRule::Kind;

}  // namespace

std::string_view name_of(Kind kind) {
    return kind == Kind::simple ? "simple" : "guarded";
}

std::string text_of(const DecisionRule& rule) {
    if (rule.kind == Kind::simple) return "simple";
    return rule.guard_s ? fmt::format("guarded:{}s", shortest_text(*rule.guard_s))
                        : fmt::format("guarded:{}U", shortest_text(rule.guard_times_U));
}

std::string in_words(const DecisionRule& rule) {
    if (rule.kind == Kind::simple) return "simple acceptance";
    if (rule.guard_s) return fmt::format("guarded acceptance, w = {} s", shortest_text(*rule.guard_s));
    if (rule.guard_times_U == 1) return "guarded acceptance, w = U";
    return fmt::format("guarded acceptance, w = {} U", shortest_text(rule.guard_times_U));
}

Result<DecisionRule> parse_rule(std::string_view text) {
    const Error wrong{Fault::bad_input, fmt::format("'{}' is not a decision rule", text), "",
                      "Give simple, guarded (guard band U), guarded:0.83U (so many times U, 0 to 10) or "
                      "guarded:0.02s (a guard band in seconds)"};
    DecisionRule rule;
    std::string_view rest = without_spaces_around(text);
    if (rest == "simple") return rule;
    if (!rest.starts_with("guarded")) return wrong;
    rule.kind = Kind::guarded;
    rest = without_spaces_around(rest.substr(std::string_view("guarded").size()));
    if (rest.empty()) return rule;
    if (!rest.starts_with(':')) return wrong;
    rest = without_spaces_around(rest.substr(1));
    const bool by_U = rest.ends_with('U');
    if (!by_U && !rest.ends_with('s')) return wrong;
    rest.remove_suffix(1);
    const auto width = parse_number(without_spaces_around(rest));
    if (!width || !(*width >= 0) || *width > (by_U ? most_guard_times_U : most_guard_s)) return wrong;
    if (by_U)
        rule.guard_times_U = *width + 0.0;  // -0 is 0
    else
        rule.guard_s = *width + 0.0;
    return rule;
}

}  // namespace ebbtide::plan
