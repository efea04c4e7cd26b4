#pragma once
// A live sheet that has no modes, or whose absorption would not let itself be handed on with them: followed
// step by step, each step a stretch.

#include "sheet/live_sheet.hpp"

namespace ebbtide::sheet {

/// `hang_sheet` for input that it has found good. A step may add 0.2 mV of error to a potential.
[[nodiscard]] std::unique_ptr<LiveSheet> stepped_sheet(std::shared_ptr<const CutSheet> sheet,
                                                       const Material& material, const Clamps& contacts,
                                                       const Charged& start);

}  // namespace ebbtide::sheet
