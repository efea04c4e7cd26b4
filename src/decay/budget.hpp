#pragma once
// The first-order budget of a decay time (JCGM 100:2008, clause 5): one contribution a source.

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace ebbtide::decay {

/// Over what a contribution is shared: one error for all runs of the same series, day or bench. Only
/// run-scope parts average down over replicates.
enum class Scope { run, series, day, bench };
[[nodiscard]] std::string_view name_of(Scope scope);

/// A source of uncertainty and what it does to the decay time.
struct Contribution {
    std::string source;                        ///< "noise at the crossing", "zero", ...
    double u = 0;                              ///< standard uncertainty of the source, in `unit`
    std::string unit;                          ///< "V", "s", "1"
    double sensitivity = 0;                    ///< d t / d source, seconds per unit, with its sign
    std::optional<double> degrees_of_freedom;  ///< absent: infinite
    Scope scope = Scope::run;
    std::string correlated_with;  ///< another source of the same budget, or empty; said on one of the two
    double correlation = 0;       ///< its coefficient, -1 to 1
    /// u was estimated once, from several runs together: averaging over them adds no degrees of freedom.
    bool pooled = false;

    /// What the source does to the decay time, as a magnitude.
    [[nodiscard]] double u_s() const { return u < 0 || sensitivity < 0 ? -u * sensitivity : u * sensitivity; }
};

/// Root of the sum of squares and of 2 r u_i u_j with the signs of the sensitivities (JCGM 100:2008, 5.2.2,
/// eq. 13). A partner that the budget does not hold is left out; coefficients that contradict each other
/// never make the sum negative.
[[nodiscard]] double combined_u_s(std::span<const Contribution> budget);
/// Welch-Satterthwaite (JCGM 100:2008, G.4.1); absent when infinite. The formula is for independent sources;
/// correlated ones are taken into the combined uncertainty only.
[[nodiscard]] std::optional<double> effective_degrees_of_freedom(std::span<const Contribution> budget);

/// A run in a mean: its budget, and by which series and day it shares errors with other runs.
struct RunBudget {
    std::span<const Contribution> budget;
    std::string series;
    std::string day;
};

/// Budget of the mean of n runs, one line a source, largest first. What runs share adds up with its sign;
/// what they do not share adds in squares: run parts fall by 1/sqrt(n) where they are alike, series parts by
/// the number of series, day parts by that of days, bench parts stay. `u` is the root mean square over the
/// runs, the sensitivity is that of the mean. `runs` is not
/// empty, and no budget names a source twice; a mean of one run is that run.
[[nodiscard]] std::vector<Contribution> budget_of_mean(std::span<const RunBudget> runs);

/// Standard uncertainty of the mean of runs: that of its budget.
[[nodiscard]] double u_of_mean_s(std::span<const RunBudget> runs);

}  // namespace ebbtide::decay
