#pragma once
// Times of which some are known only by a bound: the sample that all statistics of a lot start from.

#include <optional>
#include <span>
#include <string>

#include "basis/result.hpp"

namespace ebbtide::stats {

/// What is known of a time. A run that never reached its level is `at_least`, one below resolution `at_most`.
enum class Known { exactly, at_least, at_most, between };

struct Observation {
    Known known = Known::exactly;
    double value = 0;  ///< the time; of at_least and between the lower bound, of at_most the upper one
    double upper = 0;  ///< of between: the upper bound
    double count = 1;  ///< how many specimens gave it
};

[[nodiscard]] inline Observation exactly(double value, double count = 1) {
    return {Known::exactly, value, 0, count};
}
[[nodiscard]] inline Observation at_least(double value, double count = 1) {
    return {Known::at_least, value, 0, count};
}
[[nodiscard]] inline Observation at_most(double value, double count = 1) {
    return {Known::at_most, value, 0, count};
}
[[nodiscard]] inline Observation between(double lower, double upper, double count = 1) {
    return {Known::between, lower, upper, count};
}

/// Both ends at a stated confidence; an end that the values do not bound is absent.
struct ConfidenceInterval {
    std::optional<double> low = {};
    std::optional<double> high = {};
};

/// Errors, with the number of the observation (from 1): a value, bound or count that is not finite and above
/// zero; an upper bound that is not above the lower one; no observations.
[[nodiscard]] Result<Done> check(std::span<const Observation> sample);

/// How many specimens the observations stand for.
[[nodiscard]] double count_of(std::span<const Observation> sample);

}  // namespace ebbtide::stats
