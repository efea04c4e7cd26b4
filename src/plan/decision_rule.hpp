#pragma once
// How uncertainty enters the statement of conformity.

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "basis/result.hpp"

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

    /// w is taken from the uncertainty of each result.
    [[nodiscard]] bool guards_by_U() const { return kind == Kind::guarded && !guard_s; }
};

/// The widest guard bands that anybody may ask for; more is a slip of the pen.
inline constexpr double most_guard_times_U = 10, most_guard_s = 1e7;

[[nodiscard]] std::string_view name_of(DecisionRule::Kind kind);  ///< "simple", "guarded"
/// The rule without its agreement and history, as parse_rule reads it: "simple", "guarded:1U",
/// "guarded:0.02s".
[[nodiscard]] std::string text_of(const DecisionRule& rule);
/// "simple acceptance", "guarded acceptance, w = U", "guarded acceptance, w = 0.83 U", "... w = 0.02 s".
[[nodiscard]] std::string in_words(const DecisionRule& rule);

/// Reads "simple", "guarded" (w = U), "guarded:0.83U" (0 to 10 times U) and "guarded:0.02s" (0 to 1e7
/// seconds); blanks around number and unit do not matter. Agreement and history stay empty. Error: bad_input
/// with the text received.
[[nodiscard]] Result<DecisionRule> parse_rule(std::string_view text);

}  // namespace ebbtide::plan
