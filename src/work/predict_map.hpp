#pragma once
// Decay times of a sheet that is not the same everywhere, and the even sheet that would fall as it does.

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "basis/result.hpp"
#include "plan/bench.hpp"
#include "plan/level.hpp"
#include "plan/sheet_map.hpp"
#include "work/sheet_of_bench.hpp"

namespace ebbtide::work {

struct MapRequest {
    plan::Bench bench;
    SheetQuestion question = {};
    std::vector<plan::Level> levels;  ///< fractions; at least one
    double contact_ohm_m = 0;         ///< resistance times width between each clamp and the sheet
    plan::SheetMapFile map;
};

/// As PredictedLevel (predict.hpp).
struct MapLevel {
    plan::Level level;
    double decay_s = 0;
    double after_release_s = 0;
    /// Surface resistivity of an even sheet, with perfect contacts, of the same decay time; nothing where the
    /// clamps' part alone takes it there.
    std::optional<double> even_ohm_sq = {};
};

struct MapPrediction {
    CapacitanceSource source = CapacitanceSource::unknown;
    double capacitance_F_m2 = 0, u_capacitance = 0;
    double induced_fraction = 0;
    std::string caution;
    std::size_t cells_along = 0, cells_across = 0;
    double lowest_ohm_sq = 0, highest_ohm_sq = 0;  ///< of all cells
    double parts_share = 0;                        ///< of the sheet that threads and patches cover
    std::vector<MapLevel> levels;
};

/// No lag, no fall time of the clamps, a long hold, no field dependence. Decay times to 1e-3. Errors: a sheet
/// that would hang; a capacitance that nobody knows; levels that are no fractions; a part beyond the sheet or
/// narrower than a cell; more than 250,000 cells; figures out of range; with a leak, a level that the hold
/// does not start above.
[[nodiscard]] Result<MapPrediction> predict_map(const MapRequest& request);

}  // namespace ebbtide::work
