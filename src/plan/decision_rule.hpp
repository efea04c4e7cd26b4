#pragma once
// How uncertainty enters the statement of conformity.

#include <optional>
#include <string>
#include <vector>

namespace ebbtide::plan {

/// What is known of a material before the test: normal, in seconds, for the quantity of one requirement.
struct History {
    std::string requirement;  ///< its id
    double mean_s = 0;
    double standard_deviation_s = 0;
    std::string source;
};

/// Simple: the value is compared with the limit as it is. Guarded: accepted only w inside the limit, rejected
/// only w beyond it, conditional between (ILAC-G8:09/2019).
struct DecisionRule {
    enum class Kind { simple, guarded } kind = Kind::simple;
    double guard_times_U = 1;       ///< guarded: w is this many times U of the result at 95 %, >= 0
    std::optional<double> guard_s;  ///< guarded: w itself, where it is agreed in seconds, >= 0
    std::string agreed;             ///< who agreed to it and when
    std::vector<History> history;   ///< for the risk before the test; may be empty
};

}  // namespace ebbtide::plan
