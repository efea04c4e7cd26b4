#pragma once
// Currents through pieces of a conductor whose resistance falls with the field, many at a time.

#include <span>

namespace ebbtide::lanes {

/// With root = sqrt(|across| squared_per_V): takes each voltage `across` a piece to its current, conductance
/// * across * e^root, and `slope`, unless it is empty, to what the current changes for a volt more,
/// conductance * e^root * (1 + root / 2). All of one size. Exponentials as exp_all.
void field_currents(std::span<double> across, std::span<const double> squared_per_V,
                    std::span<const double> conductance, std::span<double> slope);

}  // namespace ebbtide::lanes
