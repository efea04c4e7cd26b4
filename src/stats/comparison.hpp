#pragma once
// Whether two groups differ, or are as good as alike: Welch's test, corrected where many pairs are looked at.

#include <span>
#include <vector>

#include "stats/censored.hpp"

namespace ebbtide::stats {

/// What is known of a group's mean: its variance > 0 (of the mean, not of a value) with degrees of freedom.
struct GroupMean {
    double mean = 0;
    double variance = 0;
    double degrees_of_freedom = 0;
};

struct Difference {
    double difference = 0;  ///< of the means, first less second
    double standard_error = 0;
    double degrees_of_freedom = 0;     ///< Welch and Satterthwaite's
    double p = 1;                      ///< chance of one so large, either way, if the means are alike
    ConfidenceInterval interval = {};  ///< of the difference
};

/// B. L. Welch, Biometrika 34 (1947) 28: the groups may scatter differently.
[[nodiscard]] Difference difference_of(const GroupMean& first, const GroupMean& second, double confidence);

/// S. Holm's correction (Scand. J. Stat. 6 (1979) 65): p-values, in their places, such that taking those
/// under a level for differences is wrong anywhere in the family no more often than that.
[[nodiscard]] std::vector<double> holm(std::span<const double> p);

/// Two one-sided tests: the p-value of the claim that the means differ by less than `margin` > 0. Not showing
/// a difference shows no likeness; this does.
[[nodiscard]] double equivalence_p(const Difference& difference, double margin);

}  // namespace ebbtide::stats
