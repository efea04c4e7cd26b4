#pragma once
// A live sheet that has no modes, or whose absorption would not let itself be handed on with them: followed
// step by step, each step a stretch.

#include "sheet/balance.hpp"
#include "sheet/live_sheet.hpp"

namespace ebbtide::sheet {

/// What the sensor shows for the potentials of the pieces, without the clamps' part, and for the clamps.
struct Shown {
    Eigen::VectorXd per_own_V;
    double induced_fraction = 0;
};

/// The sheet of this balance. A step may add 0.2 mV of error to a potential.
[[nodiscard]] std::unique_ptr<LiveSheet> stepped_sheet(std::unique_ptr<Balance> balance, Shown shown,
                                                       const Charged& start);

/// `hang_sheet` for input that it has found good.
[[nodiscard]] std::unique_ptr<LiveSheet> stepped_sheet(std::shared_ptr<const CutSheet> sheet,
                                                       const Material& material, const Clamps& contacts,
                                                       const Charged& start);

}  // namespace ebbtide::sheet
