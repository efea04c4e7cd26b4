#include "sheet/ring_electrode.hpp"

#include <fmt/core.h>

#include <cmath>
#include <numbers>

namespace ebbtide::sheet {

using std::numbers::pi;

double RingElectrode::factor() const {
    return 2 * pi / std::log(outer_m / inner_m);
}

double RingElectrode::perimeter_over_gap() const {
    return pi * (inner_m + outer_m) / (outer_m - inner_m);
}

Result<RingElectrode> ring_electrode(double inner_m, double outer_m) {
    if (inner_m > 0 && outer_m > inner_m && std::isfinite(outer_m)) return RingElectrode{inner_m, outer_m};
    return Error{
        Fault::bad_input,
        fmt::format("the ring's diameter must be above the disc's, and that above 0; got {} and {} mm",
                    1000 * inner_m, 1000 * outer_m),
        "rings", "Give the disc's diameter first, then the inner diameter of the ring"};
}

RingComparison compare_with_rings(double resistivity_ohm_sq, double low, double high,
                                  const RingElectrode& rings, double resistance_ohm, double u_relative) {
    RingComparison out;
    out.ring_ohm_sq = rings.factor() * resistance_ohm;
    out.ratio = resistivity_ohm_sq / out.ring_ohm_sq;
    constexpr double two_sided = 1.96;
    const double of_rings = two_sided * u_relative;
    const double below = std::log(resistivity_ohm_sq / low), above = std::log(high / resistivity_ohm_sq);
    out.low = out.ratio * std::exp(-std::hypot(below, of_rings));
    out.high = out.ratio * std::exp(std::hypot(above, of_rings));
    out.agree = out.low <= 1 && 1 <= out.high;
    out.within_electrodes = std::abs(std::log(out.ratio)) <= std::log(electrodes_differ);
    return out;
}

}  // namespace ebbtide::sheet
