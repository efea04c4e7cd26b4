#include "decay/sheet_cells.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

namespace ebbtide::decay {
namespace {

using Eigen::ArrayXXd, Eigen::Index;

constexpr double most_cells = 250'000;

Error no_map(std::string what, std::string remedy) {
    return {Fault::bad_input, std::move(what), "sheet map", std::move(remedy)};
}

/// Cells of the sheet, filled part by part.
struct Cells {
    double gap_mm, width_mm;
    ArrayXXd ohm_sq;
    Eigen::Array<bool, Eigen::Dynamic, Eigen::Dynamic> covered;

    /// False when no cell's middle lies inside.
    template <class Inside>
    bool fill(double value, Inside inside) {
        bool any = false;
        for (Index j = 0; j < ohm_sq.cols(); ++j)
            for (Index i = 0; i < ohm_sq.rows(); ++i) {
                const double along =
                    gap_mm * (static_cast<double>(i) + 0.5) / static_cast<double>(ohm_sq.rows());
                const double across =
                    width_mm * (static_cast<double>(j) + 0.5) / static_cast<double>(ohm_sq.cols());
                if (!inside(along, across)) continue;
                ohm_sq(i, j) = value;
                covered(i, j) = any = true;
            }
        return any;
    }
};

}  // namespace

Result<SheetCells> cells_of(const plan::SheetMapFile& map, double gap_mm) {
    const double along = std::max(4.0, std::ceil(gap_mm / map.cell_mm * (1 - 1e-12))),
                 across = std::max(1.0, std::ceil(map.width_mm / map.cell_mm * (1 - 1e-12)));
    if (!(along * across <= most_cells))
        return no_map(fmt::format("a gap of {} mm and a width of {} mm in cells of {} mm are {:.0f} cells",
                                  gap_mm, map.width_mm, map.cell_mm, along * across),
                      "Make cell_mm larger: at most 250,000 cells");
    const auto rows = static_cast<Index>(along), cols = static_cast<Index>(across);
    Cells out{gap_mm, map.width_mm, ArrayXXd::Constant(rows, cols, map.surface_resistivity_ohm_sq),
              Eigen::Array<bool, Eigen::Dynamic, Eigen::Dynamic>::Constant(rows, cols, false)};
    const Error narrow = no_map("a part is narrower than a cell: no cell's middle lies in it",
                                "Make cell_mm smaller, or state the mean of fine threads instead");
    for (const plan::SheetThreads& threads : map.threads) {
        const double cell_mm = threads.clamp_to_clamp ? map.width_mm / across : gap_mm / along;
        if (threads.thread_mm < cell_mm * (1 - 1e-9)) return narrow;
        const bool any = out.fill(threads.surface_resistivity_ohm_sq, [&](double x, double y) {
            const double at =
                std::remainder((threads.clamp_to_clamp ? y : x) - threads.first_mm, threads.pitch_mm);
            return at >= -threads.thread_mm / 2 && at < threads.thread_mm / 2;
        });
        if (!any) return narrow;
    }
    for (const plan::SheetPatch& patch : map.patches) {
        if (patch.along_to_mm > gap_mm || patch.across_to_mm > map.width_mm)
            return no_map(
                fmt::format("a patch reaches to {} mm along and {} mm across, the sheet to {} and {}",
                            patch.along_to_mm, patch.across_to_mm, gap_mm, map.width_mm),
                "Count from the left clamp, and from one end of the clamps");
        const bool any = out.fill(patch.surface_resistivity_ohm_sq, [&](double x, double y) {
            return x >= patch.along_from_mm && x < patch.along_to_mm && y >= patch.across_from_mm &&
                   y < patch.across_to_mm;
        });
        if (!any) return narrow;
    }
    return SheetCells{std::move(out.ohm_sq),
                      static_cast<double>(out.covered.count()) / static_cast<double>(out.covered.size())};
}

}  // namespace ebbtide::decay
