#pragma once
// Other terms than the order's, under which archived waveforms are judged again.

#include <optional>
#include <string>
#include <vector>

#include "plan/decision_rule.hpp"
#include "plan/level.hpp"

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

}  // namespace ebbtide::plan
