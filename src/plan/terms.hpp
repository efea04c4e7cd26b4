#pragma once
// Other terms than the order's, under which archived waveforms are judged again.

#include <optional>
#include <string>
#include <vector>

#include "plan/decision_rule.hpp"
#include "plan/level.hpp"
#include "plan/order.hpp"
#include "plan/specification.hpp"

namespace ebbtide::plan {

/// What replaces the order's own; empty fields leave it as it is.
struct Terms {
    std::string specification;  ///< file in the order's folder (ending in .toml) or id of a shipped one
    std::vector<Level> levels;  ///< every requirement on a decay time is asked at each of these instead
    std::optional<DecisionRule> decision_rule;

    [[nodiscard]] bool any() const {
        return !specification.empty() || !levels.empty() || decision_rule.has_value();
    }
};

/// The specification with each requirement on a decay time asked at each of the terms' levels: "r1" becomes
/// "r1 at 1 %", and a demand is asked once a level. Requirements on supplied quantities stay. Unchanged
/// without levels.
[[nodiscard]] Specification asked_under(const Terms& terms, Specification specification);
/// The rule that applies: the terms' or the order's. What is known of the material is no term, so the order's
/// history stays; but it is of the order's own requirements, and goes with them.
[[nodiscard]] DecisionRule rule_under(const Terms& terms, const Order& order);
/// The levels that a specification compares, each once.
[[nodiscard]] std::vector<Level> levels_asked(const Specification& specification);
/// Reads "0.1,1/e,500 V". Errors: none given, one that is no level, 0 (an exponential never reaches zero).
[[nodiscard]] Result<std::vector<Level>> parse_levels_asked(std::string_view text);

}  // namespace ebbtide::plan
