#pragma once
// A specification: the document that holds limits, as testable sentences.

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "plan/apparatus.hpp"
#include "plan/level.hpp"

namespace ebbtide::plan {

/// Decay times are limited from above; supplied quantities either way.
enum class Comparison { less, less_or_equal, greater, greater_or_equal };

/// What a requirement is asked of. `each_run` compares every run; the others compare means of runs grouped by
/// keys.
enum class Statistic { each_run, mean };

/// Keys by which runs are grouped before the mean.
enum class GroupKey { specimen, direction, face, polarity, state, conditions };

/// A class by which a document sorts results: its name and the limit of its decay times.
struct Grade {
    std::string name;
    double limit_s = 0;
};

/// A limit on something that another test gives.
struct SuppliedLimit {
    std::string quantity;  ///< "shielding_factor"
    double limit = 0;
};

/// One testable sentence: quantity, statistic, comparison, limit.
struct Requirement {
    std::string id;      ///< "3.10-average"
    std::string clause;  ///< clause of the document, or "from memory", "common practice, no source"
    Level level;         ///< the quantity is the decay time to this level
    Statistic statistic = Statistic::each_run;
    std::vector<GroupKey> group_by;  ///< for mean; {specimen} is the specimen mean, {} the mean of all
    Comparison comparison = Comparison::less_or_equal;
    double limit_s = 0;
    std::vector<Grade> grades;              ///< best first, the last one's limit is limit_s; mostly none
    std::optional<SuppliedLimit> supplied;  ///< instead of level, statistic and limit_s
};

/// Met when any one of the alternatives is met (`any_of`); mostly there is one.
struct Demand {
    std::string id;
    std::vector<Requirement> any_of;
};

struct Specification {
    std::string id;
    std::string edition;
    std::string title;
    std::string source;
    std::string notice;
    Apparatus apparatus = Apparatus::clamp_discharge;  ///< whose results its limits are about
    std::vector<Demand> demands;                       ///< all must be met
    std::vector<std::string> remarks;  ///< printed in the report, e.g. that two clauses disagree
};

[[nodiscard]] std::string_view name_of(Comparison comparison);    ///< "<", ">=", as in files
[[nodiscard]] std::string_view symbol_of(Comparison comparison);  ///< "<", "≤", as people read it
[[nodiscard]] std::string_view in_words(Comparison comparison);   ///< "less than", "at least"
[[nodiscard]] std::string_view name_of(Statistic statistic);      ///< "each_run", "mean"
[[nodiscard]] std::string_view name_of(GroupKey key);             ///< "specimen", ...
/// The requirement is about decay times to this level.
[[nodiscard]] bool asks_for(const Requirement& requirement, const Level& level);
/// "shielding_factor > 0.2", "mean per direction and state of t(10 %) <= 0.5 s".
[[nodiscard]] std::string sentence(const Requirement& requirement);

}  // namespace ebbtide::plan
