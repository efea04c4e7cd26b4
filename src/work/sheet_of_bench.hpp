#pragma once
// The sheet that a bench holds: which operator describes its charge, and what is known of its capacitance.

#include <optional>
#include <string>
#include <string_view>

#include "basis/result.hpp"
#include "plan/bench.hpp"
#include "sheet/relative_modes.hpp"

namespace ebbtide::work {

enum class SheetOperator {
    hanging,  ///< clamps, sensor face and enclosure hold its charge
    backed,   ///< an earthed surface close by does: a capacitance for each area
};
[[nodiscard]] std::string_view name_of(SheetOperator one);

/// What the effective capacitance rests on. Only the first two tell a resistivity from its product with it.
enum class CapacitanceSource {
    calibrated,  ///< a fixture calibration of the bench that holds for its gap and sensor distance
    stated,      ///< by whoever asked
    by_lengths,  ///< worked out from the fixture's lengths, not calibrated
    unknown,
};
[[nodiscard]] std::string_view name_of(CapacitanceSource one);

struct SheetQuestion {
    std::optional<double> backing_capacitance_F_m2 = {};  ///< a backed sheet of this capacitance; above 0
    bool backed = false;  ///< as a backed sheet, whatever lengths the bench states
};

struct BenchSheet {
    SheetOperator used = SheetOperator::hanging;
    sheet::TimedSheet sheet;
    /// The same capacitance under the other operator, where lengths for it are stated and it applies.
    std::optional<sheet::TimedSheet> other = {};
    CapacitanceSource source = CapacitanceSource::unknown;
    double capacitance_F_m2 = 0;  ///< effective, of the slowest mode; 0 where unknown
    double u_capacitance = 0;     ///< relative, of calibrated ones
    /// What the clamps induce on the sensor of the empty fixture, measured or by lengths: a reading must be
    /// well above it to prove charge, whatever the sheet is taken to be.
    std::optional<double> clamps_induce = {};
    std::optional<sheet::FaceView> face = {};  ///< of a backed sheet's sensor, where its distance is stated
    std::string caution;  ///< in words: a calibration that does not hold any more; mostly empty

    /// T for a surface resistivity of 1 ohm. Expects a capacitance that is known.
    [[nodiscard]] double time_per_ohm_s() const;
    /// A resistivity can be told from its product with the capacitance.
    [[nodiscard]] bool tells_resistivity() const {
        return source == CapacitanceSource::calibrated || source == CapacitanceSource::stated;
    }
};

/// Hanging where the bench states gap, sensor distance and enclosure and nothing else is asked, else backed.
/// The sensor sees either through its opening from its distance; where that is not stated, a point of a
/// backed sheet. What the clamps induce beside a backed sheet that nobody measured is their share in that
/// view. Errors: no gap; lengths outside those of cut_sheet; a capacitance that is not above 0.
[[nodiscard]] Result<BenchSheet> sheet_of(const plan::Bench& bench, const SheetQuestion& question);

}  // namespace ebbtide::work
