#include "plan/terms.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace ebbtide::plan {
namespace {

/// The demand with its decay times read at another level. Its alternatives stay alternatives.
Demand at_level(const Demand& demand, const Level& level) {
    Demand asked = demand;
    asked.id = fmt::format("{} at {}", demand.id, level.label());
    for (Requirement& requirement : asked.any_of) {
        requirement.id = fmt::format("{} at {}", requirement.id, level.label());
        if (!requirement.supplied) requirement.level = level;
    }
    return asked;
}

}  // namespace

Specification asked_under(const Terms& terms, Specification specification) {
    if (terms.levels.empty()) return specification;
    std::vector<Demand> demands;
    for (const Demand& demand : specification.demands) {
        const bool of_decay_times =
            std::ranges::any_of(demand.any_of, [](const Requirement& r) { return !r.supplied; });
        if (!of_decay_times) {
            demands.push_back(demand);
            continue;
        }
        for (const Level& level : terms.levels) demands.push_back(at_level(demand, level));
    }
    specification.demands = std::move(demands);
    return specification;
}

DecisionRule rule_under(const Terms& terms, const Order& order) {
    DecisionRule rule = terms.decision_rule.value_or(order.decision_rule);
    rule.history = order.decision_rule.history;
    if (!terms.specification.empty() || !terms.levels.empty()) rule.history.clear();
    return rule;
}

std::vector<Level> levels_asked(const Specification& specification) {
    std::vector<Level> levels;
    for (const Demand& demand : specification.demands)
        for (const Requirement& requirement : demand.any_of)
            if (!requirement.supplied) add_once(levels, requirement.level);
    return levels;
}

Result<std::vector<Level>> parse_levels_asked(std::string_view text) {
    std::vector<Level> levels;
    while (true) {
        const std::size_t comma = std::min(text.find(','), text.size());
        auto level = parse_level(text.substr(0, comma));
        if (!level) return level.error();
        if (level->value == 0)
            return Error{Fault::bad_input, "the level 0 is never reached by an exponential", "",
                         "Ask for a level above zero, such as 1 %"};
        add_once(levels, *level);
        if (comma == text.size()) return levels;
        text.remove_prefix(comma + 1);
    }
}

}  // namespace ebbtide::plan
