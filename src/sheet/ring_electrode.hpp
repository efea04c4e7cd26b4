#pragma once
// Surface resistivity measured between concentric rings: the other way to the quantity that a fall implies.

#include "basis/result.hpp"

namespace ebbtide::sheet {

/// A disc of diameter `inner_m` within a ring whose inner edge has the diameter `outer_m`.
struct RingElectrode {
    double inner_m = 0, outer_m = 0;

    /// Surface resistivity over measured resistance: k = 2 pi / ln(outer / inner), the current spreading
    /// radially (formula from memory; potential theory of a ring gives it in two lines).
    [[nodiscard]] double factor() const;
    /// The older P / g: mean perimeter over width of the gap. 3 % above factor() for a gap of a half of the
    /// disc.
    [[nodiscard]] double perimeter_over_gap() const;
};

/// Bad input: diameters that are not finite, or not 0 < inner < outer.
[[nodiscard]] Result<RingElectrode> ring_electrode(double inner_m, double outer_m);

/// A resistivity from a fall beside one from rings.
struct RingComparison {
    double ring_ohm_sq = 0;          ///< factor times resistance
    double ratio = 0;                ///< from the fall over from the rings
    double low = 0, high = 0;        ///< 95 % interval of the ratio
    bool agree = false;              ///< the interval holds 1
    bool within_electrodes = false;  ///< disagree by less than rings of one standard did among themselves
};

/// Ring electrodes of one standard differed by this factor on a uniform material (J. Electrostatics, abstract
/// seen).
inline constexpr double electrodes_differ = 1.8;

/// `low`, `high`: 95 % interval of the resistivity from the fall; `u_relative`: of the resistance between the
/// rings. All above 0. The interval of the ratio is put together on the logarithmic scale.
[[nodiscard]] RingComparison compare_with_rings(double resistivity_ohm_sq, double low, double high,
                                                const RingElectrode& rings, double resistance_ohm,
                                                double u_relative);

}  // namespace ebbtide::sheet
