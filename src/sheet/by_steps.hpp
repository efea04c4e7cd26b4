#pragma once
// A sheet followed step by step: any field dependence, any absorption.

#include <array>
#include <span>

#include "sheet/clamp_voltage.hpp"
#include "sheet/conduction.hpp"

namespace ebbtide::sheet {

/// `simulate` for input that it has found good.
[[nodiscard]] Result<Course> by_steps(const CutSheet& sheet, const Material& material,
                                      const Conduction& conduction, const std::array<Phase, 2>& phases,
                                      std::span<const double> times_s, const Options& options);

}  // namespace ebbtide::sheet
