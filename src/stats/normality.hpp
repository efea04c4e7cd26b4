#pragma once
// Whether values may come from a normal population, and whether one of them stands apart.

#include <optional>
#include <span>
#include <vector>

namespace ebbtide::stats {

/// How far values lie from the normal law that fits them best, weighting the tails.
struct AndersonDarling {
    double statistic = 0;  ///< A^2, mean and standard deviation estimated
    double p = 0;          ///< chance of so large a one if the population is normal
};

/// A^2 with the p-value of M. A. Stephens (in D'Agostino and Stephens, Goodness-of-Fit Techniques, 1986,
/// table 4.9; from memory). Absent for fewer than 8 values, of which no such test can tell, and for values
/// that are all the same.
[[nodiscard]] std::optional<AndersonDarling> anderson_darling(std::span<const double> values);

/// The value furthest from the mean. A flag to look at a specimen, never a reason to drop it.
struct FurthestValue {
    std::size_t place = 0;  ///< in the values
    double statistic = 0;   ///< its distance from the mean over the standard deviation
    double p = 0;           ///< chance of one so far, at either side, if all come from one normal population
};

/// F. E. Grubbs, Ann. Math. Stat. 21 (1950) 27. The p-value is exact where it is small, an upper bound
/// elsewhere. Absent for fewer than 3 values and for values that are all the same.
[[nodiscard]] std::optional<FurthestValue> grubbs(std::span<const double> values);

/// The distance that is exceeded with probability `level` (5 % at either side together: 0.05). n >= 3.
[[nodiscard]] double grubbs_critical(int n, double level);

}  // namespace ebbtide::stats
