#pragma once
// The first-order budget of a decay time (JCGM 100:2008, clause 5): one contribution a source.

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace ebbtide::decay {

/// Over what a contribution is shared. Only run-scope parts average down over replicates.
enum class Scope { run, series, day, bench };
[[nodiscard]] std::string_view name_of(Scope scope);

/// A source of uncertainty and what it does to the decay time.
struct Contribution {
    std::string source;                        ///< "noise at the crossing", "zero", ...
    double u = 0;                              ///< standard uncertainty of the source, in `unit`
    std::string unit;                          ///< "V", "s", "1"
    double sensitivity = 0;                    ///< d t / d source, seconds per unit
    std::optional<double> degrees_of_freedom;  ///< absent: infinite
    Scope scope = Scope::run;
    std::string correlated_with;  ///< another source of the same budget, or empty; said on one of the two
    double correlation = 0;       ///< its coefficient, -1 to 1

    [[nodiscard]] double u_s() const { return u < 0 || sensitivity < 0 ? -u * sensitivity : u * sensitivity; }
};

/// Root of the sum of squares.
[[nodiscard]] double combined_u_s(std::span<const Contribution> budget);
/// Welch-Satterthwaite (JCGM 100:2008, G.4.1); absent when infinite.
[[nodiscard]] std::optional<double> effective_degrees_of_freedom(std::span<const Contribution> budget);

/// Standard uncertainty of a mean of runs: run-scope parts by 1/n, the others as fully shared between runs.
/// `budgets` holds one budget a run; none empty.
[[nodiscard]] double u_of_mean_s(std::span<const std::span<const Contribution>> budgets);

}  // namespace ebbtide::decay
