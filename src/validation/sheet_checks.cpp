#include <cmath>
#include <numbers>

#include "sheet/modes.hpp"
#include "validation/checks.hpp"

namespace ebbtide::validation {
namespace {

/// A sheet between clamps of 25 mm, 76.2 mm apart.
sheet::Modes modes_of(double sensor_mm, double wall_mm) {
    return sheet::hanging_modes({0.0762, 0.025, sensor_mm / 1000, wall_mm / 1000}).value();
}

double slowest_s(const sheet::Modes& modes, double surface_resistivity_ohm_sq) {
    return surface_resistivity_ohm_sq * modes.capacitance_F_m2 * std::pow(0.0762 / std::numbers::pi, 2);
}

}  // namespace

std::vector<Check> sheet_checks() {
    const char* source = "two other 2-D models, boundary elements and finite differences, which agree to 1 %";
    const auto sheet = [&](const char* name, const char* printed, const char* unit,
                           std::function<Answer()> ours, Allowed allowed = {}) {
        return Check{"Hanging sheet", name, source, printed, unit, std::move(ours), std::move(allowed)};
    };
    const auto whole_per_cent = last_digits(1, "those models state whole per cents");
    return {
        sheet("slowest time constant at 1e11 ohm, sensor at 12.7 mm, wall at 50 mm", "0.064", "s",
              [] { return slowest_s(modes_of(12.7, 50), 1e11); }),
        sheet("slowest time constant at 1e11 ohm, sensor at 25 mm, wall at 50 mm", "0.0466", "s",
              [] { return slowest_s(modes_of(25, 50), 1e11); }),
        sheet(
            "induced fraction, sensor at 12.5 mm, wall at 50 mm", "11", "%",
            [] { return 100 * modes_of(12.5, 50).induced_fraction; }, whole_per_cent),
        sheet(
            "induced fraction, sensor at 40 mm, wall at 100 mm", "52", "%",
            [] { return 100 * modes_of(40, 100).induced_fraction; }, whole_per_cent),
    };
}

}  // namespace ebbtide::validation
