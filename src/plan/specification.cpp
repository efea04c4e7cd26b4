#include "plan/specification.hpp"

#include <fmt/format.h>

#include "basis/number_text.hpp"

namespace ebbtide::plan {

std::string_view name_of(Comparison comparison) {
    switch (comparison) {
        case Comparison::less:
            return "<";
        case Comparison::less_or_equal:
            return "<=";
        case Comparison::greater:
            return ">";
        case Comparison::greater_or_equal:
            return ">=";
    }
    return "";
}

std::string_view symbol_of(Comparison comparison) {
    switch (comparison) {
        case Comparison::less_or_equal:
            return "≤";
        case Comparison::greater_or_equal:
            return "≥";
        default:
            return name_of(comparison);
    }
}

std::string_view in_words(Comparison comparison) {
    switch (comparison) {
        case Comparison::less:
            return "less than";
        case Comparison::less_or_equal:
            return "at most";
        case Comparison::greater:
            return "more than";
        case Comparison::greater_or_equal:
            return "at least";
    }
    return "";
}

std::string_view name_of(Statistic statistic) {
    return statistic == Statistic::mean ? "mean" : "each_run";
}

std::string_view name_of(GroupKey key) {
    switch (key) {
        case GroupKey::specimen:
            return "specimen";
        case GroupKey::direction:
            return "direction";
        case GroupKey::face:
            return "face";
        case GroupKey::polarity:
            return "polarity";
        case GroupKey::state:
            return "state";
        case GroupKey::conditions:
            return "conditions";
    }
    return "";
}

bool asks_for(const Requirement& requirement, const Level& level) {
    return !requirement.supplied && requirement.level.same_as(level);
}

std::string sentence(const Requirement& requirement) {
    if (requirement.supplied)
        return fmt::format("{} {} {}", requirement.supplied->quantity, symbol_of(requirement.comparison),
                           shortest_text(requirement.supplied->limit));
    std::string subject = "each run's";
    if (requirement.statistic == Statistic::mean) {
        subject = requirement.group_by.empty() ? "mean of all runs'" : "mean per ";
        for (std::size_t i = 0; i < requirement.group_by.size(); ++i)
            subject += fmt::format("{}{}", i == 0 ? "" : " and ", name_of(requirement.group_by[i]));
        if (!requirement.group_by.empty()) subject += " of";
    }
    return fmt::format("{} t({}) {} {} s", subject, requirement.level.label(),
                       symbol_of(requirement.comparison), shortest_text(requirement.limit_s));
}

}  // namespace ebbtide::plan
