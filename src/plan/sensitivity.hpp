#pragma once
// How steeply a material's decay time follows its surroundings.

#include <optional>
#include <string>

namespace ebbtide::plan {

/// A change by this much moves the decay time by a factor of ten; magnitudes above 0. Drier and cooler is
/// slower.
struct Sensitivity {
    std::optional<double> humidity_percent_per_decade;  ///< points of relative humidity
    std::optional<double> temperature_C_per_decade;
    std::string source;  ///< "measured, report ...", "from memory"
};

}  // namespace ebbtide::plan
