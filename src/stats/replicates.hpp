#pragma once
// Replicates are not specimens: what several values of each specimen say of the specimens, and whether values
// drift from one replicate to the next.

#include <optional>
#include <span>
#include <vector>

namespace ebbtide::stats {

/// One-way analysis of variance with random specimens, balanced or not (moments; a negative component is set
/// to 0).
struct SpecimenVariation {
    double specimens = 0, values = 0;
    double squares_between = 0, squares_within = 0;
    double degrees_between = 0, degrees_within = 0;
    double f_ratio = 0;           ///< of the mean squares
    double p = 1;                 ///< chance of so large a ratio if specimens are alike
    double variance_between = 0;  ///< of specimens' true values
    double variance_within = 0;   ///< of replicates of one specimen
    double mean = 0;              ///< over specimens, each weighed by how well it is known
    double variance_of_mean = 0;
    /// Independent values of single replicates that would tell the mean as well: between the number of
    /// specimens and that of values.
    double effective_values = 0;

    /// Of a single replicate of any specimen.
    [[nodiscard]] double variance_of_value() const { return variance_between + variance_within; }
};

/// Absent: fewer than two specimens, or no specimen has two values.
[[nodiscard]] std::optional<SpecimenVariation> specimen_variation(
    std::span<const std::vector<double>> specimens);

/// A value and its place in the sequence of its specimen's replicates.
struct Replicate {
    std::size_t specimen = 0;
    double number = 0;
    double value = 0;
};

/// Change of the value from one replicate to the next, the same for all specimens, whose levels are free.
struct ReplicateTrend {
    double slope = 0;
    double standard_error = 0;
    double degrees_of_freedom = 0;
    double p = 1;  ///< chance of a slope so steep, either way, if there is no trend
};

/// Absent: no specimen has replicates of different numbers, or nothing is left to judge the scatter by.
[[nodiscard]] std::optional<ReplicateTrend> replicate_trend(std::span<const Replicate> replicates);

}  // namespace ebbtide::stats
