#pragma once
// What the middle of a linear sheet shows, in units of its own time: surface resistivity only rescales it.

#include <optional>
#include <vector>

#include "sheet/cut_sheet.hpp"

namespace ebbtide::sheet {

/// After a long charge, clamps earthed at once: reading / clamp voltage = sum of weight_k exp(-rate_k t / T),
/// with T = R_s c (gap / pi)^2 the slowest time constant of this sheet with perfect contacts. The weights sum
/// to 1 - induced_fraction: the reading is 1 while the sheet is held.
struct RelativeModes {
    std::vector<double> rate;  ///< ascending; the first is 1 with perfect contacts, less with others
    std::vector<double> weight;
    double induced_fraction = 0;

    /// Reading over clamp voltage at t / T >= 0, by all modes.
    [[nodiscard]] double reading(double t_over_T) const;
    /// t / T at which the reading comes to `level` for good, 0 < level < 1 of the hold's reading; 0 where the
    /// clamps' part alone takes it there.
    [[nodiscard]] double time_to(double level) const;
};

/// A sheet in its fixture and the scale of its time.
class TimedSheet {
  public:
    /// `strips` as cut_sheet has it. Errors: those of cut_sheet; a sheet without modes is our own fault.
    [[nodiscard]] static Result<TimedSheet> of(const Fixture& fixture, std::size_t strips = 0);

    [[nodiscard]] const CutSheet& sheet() const { return sheet_; }
    [[nodiscard]] double gap_m() const { return sheet_.edge_m.back(); }
    /// T for a surface resistivity of 1 ohm.
    [[nodiscard]] double time_per_ohm_s() const { return time_per_ohm_s_; }
    /// Effective c of the slowest mode: T = R_s c (gap / pi)^2.
    [[nodiscard]] double capacitance_F_m2() const;
    /// Perfect contacts.
    [[nodiscard]] const RelativeModes& modes() const { return modes_; }
    /// Both contacts alike, of `ratio` >= 0: contact resistance (ohm m) over R_s times the gap. Nothing where
    /// contact and sheet are 1e9 apart.
    [[nodiscard]] std::optional<RelativeModes> modes_with_contact(double ratio) const;

  private:
    CutSheet sheet_;
    double time_per_ohm_s_ = 1;
    RelativeModes modes_;
};

}  // namespace ebbtide::sheet
