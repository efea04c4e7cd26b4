#include "decay/cross_section.hpp"

namespace ebbtide::decay {

std::optional<sheet::CrossSection> cross_section_of(const plan::Fixture& fixture) {
    if (!fixture.clamp_gap_mm || !fixture.sensor_distance_mm || !fixture.enclosure_behind_mm)
        return std::nullopt;
    sheet::CrossSection out;
    out.gap_m = *fixture.clamp_gap_mm / 1000;
    if (fixture.clamp_length_mm) out.clamp_m = *fixture.clamp_length_mm / 1000;
    out.sensor_distance_m = *fixture.sensor_distance_mm / 1000;
    out.enclosure_behind_m = *fixture.enclosure_behind_mm / 1000;
    if (fixture.aperture_mm) out.aperture_m = *fixture.aperture_mm / 1000;
    return out;
}

std::optional<sheet::FaceView> face_view_of(const plan::Fixture& fixture) {
    if (!fixture.sensor_distance_mm) return std::nullopt;
    return sheet::FaceView{*fixture.sensor_distance_mm / 1000, fixture.aperture_mm.value_or(0) / 1000};
}

}  // namespace ebbtide::decay
