#pragma once
// The cells that the map of a sheet describes.

#include <Eigen/Dense>

#include "basis/result.hpp"
#include "plan/sheet_map.hpp"

namespace ebbtide::decay {

struct SheetCells {
    Eigen::ArrayXXd ohm_sq;  ///< surface resistivities [along the gap from the left clamp, along the clamps]
    double parts_share = 0;  ///< of the sheet that threads and patches cover
};

/// Equal cells, no larger than the map says, of a sheet in clamps `gap_mm` apart; each has the resistivity of
/// what its middle lies in. Bad input: more than 250,000 cells; a part beyond the sheet, or narrower than a
/// cell.
[[nodiscard]] Result<SheetCells> cells_of(const plan::SheetMapFile& map, double gap_mm);

}  // namespace ebbtide::decay
