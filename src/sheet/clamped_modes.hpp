#pragma once
// The modes of a linear sheet between its clamps.

#include <Eigen/Dense>
#include <optional>
#include <vector>

#include "sheet/conduction.hpp"

namespace ebbtide::sheet {

/// A mode's amplitude m: dm/dt = -rate m + drive V_clamp. The rest is what an amplitude of 1 adds.
struct Mode {
    double rate_per_s = 0, drive = 0;
    double reading_V = 0, charge_C_m = 0;
    double out_A_m = 0, leak_A_m = 0;       ///< currents out of the sheet: through the clamps, to earth
    Eigen::Index shape = 0;                 ///< column of the shapes
    double potential = 0, charge_part = 0;  ///< of that column: potential; charge by its own capacitance
};

struct Decomposition {
    std::vector<Mode> modes;                ///< the slowest first
    Eigen::MatrixXd potential, charge_C_m;  ///< of shapes over the strips; empty unless profiles are asked
};

/// Whether the modes are at hand: no field dependence, and no absorption in a sheet that hangs.
[[nodiscard]] bool has_modes(const CutSheet& sheet, const Material& material);

/// Those that clamps can drive. Nothing where the fastest would cost the slowest their digits: absorption or
/// contacts that are 1e9 times faster or slower than the sheet. Expects has_modes.
[[nodiscard]] std::optional<Decomposition> modes_of(const CutSheet& sheet, const Material& material,
                                                    const Conduction& conduction, bool profiles);

}  // namespace ebbtide::sheet
