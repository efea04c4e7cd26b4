#include "bench/simulated_fixture.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "decay/cross_section.hpp"
#include "decay/sheet_cells.hpp"

namespace ebbtide::bench {

Result<sheet::Fixture> fixture_of(const plan::Simulation& simulation, const plan::Fixture& believed) {
    const auto missing = [](std::string_view key) {
        return Error{Fault::bad_input, fmt::format("a simulation needs '{}' of the fixture", key),
                     "bench file", "Measure it and write it down"};
    };
    if (!believed.clamp_gap_mm) return missing("clamp_gap_mm");
    if (simulation.backing) {
        sheet::Backing out{*believed.clamp_gap_mm / 1000, simulation.backing->capacitance_F_m2,
                           simulation.backing->view_mm.value_or(0) / 1000,
                           simulation.backing->induced_fraction};
        if (!simulation.backing->view_mm) out.face = decay::face_view_of(believed);
        return sheet::Fixture(out);
    }
    if (!believed.sensor_distance_mm) return missing("sensor_distance_mm");
    if (!believed.enclosure_behind_mm) return missing("enclosure_behind_mm");
    return sheet::Fixture(*decay::cross_section_of(believed));
}

Result<sheet::SheetMap> map_of(const plan::SheetMapFile& map, const sheet::Fixture& fixture) {
    const auto* backing = std::get_if<sheet::Backing>(&fixture);
    if (!backing)
        return Error{Fault::bad_input, "a sheet that hangs has no map", "simulation",
                     "Say under [backing] what it lies on"};
    auto cells = decay::cells_of(map, 1000 * backing->gap_m);
    if (!cells) return cells.error();
    sheet::SheetMap out;
    out.gap_m = backing->gap_m;
    out.width_m = map.width_mm / 1000;
    out.surface_resistivity_ohm_sq = std::move(cells->ohm_sq);
    out.capacitance_F_m2 = backing->capacitance_F_m2;
    out.leak_S_m2 = map.leak_S_m2;
    out.view_m = backing->view_m;
    out.view_across_m = std::min(backing->view_m, out.width_m);
    out.face = backing->face;
    out.induced_fraction = backing->induced_fraction;
    return out;
}

}  // namespace ebbtide::bench
