#pragma once
// A sheet whose surface resistivity is not the same everywhere, as a file describes it.

#include <vector>

namespace ebbtide::plan {

/// Millimetres along the gap from the left clamp, across from one end of the clamps.
struct SheetPatch {
    double along_from_mm = 0, along_to_mm = 0, across_from_mm = 0, across_to_mm = 0;
    double surface_resistivity_ohm_sq = 0;
};

/// Parallel stripes.
struct SheetThreads {
    bool clamp_to_clamp = true;  ///< else along the clamps
    double pitch_mm = 0;
    double thread_mm = 0;  ///< width of each
    double first_mm = 0;   ///< middle of the first
    double surface_resistivity_ohm_sq = 0;
};

/// Later parts lie over earlier ones, patches over threads.
struct SheetMapFile {
    double width_mm = 0;  ///< along the clamps
    double cell_mm = 0;   ///< largest side of a cell
    double surface_resistivity_ohm_sq = 0;
    double leak_S_m2 = 0;
    std::vector<SheetThreads> threads = {};
    std::vector<SheetPatch> patches = {};
};

}  // namespace ebbtide::plan
