#pragma once
// A linear sheet by its modes: each answers the clamps' voltage by itself, exactly.

#include <optional>
#include <span>
#include <vector>

#include "sheet/clamp_voltage.hpp"
#include "sheet/conduction.hpp"

namespace ebbtide::sheet {

/// `simulate` for input that it has found good; expects has_modes. Nothing where modes_of finds
/// nothing.
[[nodiscard]] std::optional<Course> by_modes(const CutSheet& sheet, const Material& material,
                                             const Conduction& conduction, const std::array<Phase, 2>& phases,
                                             std::span<const double> times_s, bool profiles);

}  // namespace ebbtide::sheet
