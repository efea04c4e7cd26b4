#include "sheet/input_problems.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>

namespace ebbtide::sheet {
namespace {

bool above_zero(double value) {
    return value > 0 && std::isfinite(value);
}

bool at_least_zero(double value) {
    return value >= 0 && std::isfinite(value);
}

}  // namespace

Error bad_input(std::string what, std::string remedy) {
    return {Fault::bad_input, std::move(what), "sheet", std::move(remedy)};
}

std::optional<Error> problem_of(const Material& material) {
    if (!above_zero(material.surface_resistivity_ohm_sq))
        return bad_input(fmt::format("the surface resistivity must be above 0 ohm; got {}",
                                     material.surface_resistivity_ohm_sq));
    if (!at_least_zero(material.field_coefficient))
        return bad_input(
            fmt::format("the field coefficient must be at least 0; got {}", material.field_coefficient));
    if (!at_least_zero(material.leak_S_m2))
        return bad_input(fmt::format("the leak must be at least 0 S/m2; got {}", material.leak_S_m2));
    for (const Absorption& term : material.absorption)
        if (!above_zero(term.capacitance_F_m2) || !above_zero(term.relaxation_s))
            return bad_input(fmt::format(
                "an absorption term must have a capacitance and a relaxation time above 0; got {} F/m2, {} s",
                term.capacitance_F_m2, term.relaxation_s));
    return std::nullopt;
}

std::optional<Error> problem_of(const Clamps& clamps) {
    if (clamps.voltage_V == 0 || !std::isfinite(clamps.voltage_V))
        return bad_input(fmt::format("the clamp voltage must not be 0 V; got {}", clamps.voltage_V));
    for (const double contact : {clamps.left_contact_ohm_m, clamps.right_contact_ohm_m})
        if (!at_least_zero(contact))
            return bad_input(fmt::format("a contact resistance must be at least 0 ohm m; got {}", contact));
    if (clamps.hold_s && !above_zero(*clamps.hold_s))
        return bad_input(fmt::format("the hold must be above 0 s; got {}", *clamps.hold_s));
    if (!at_least_zero(clamps.rise_s))
        return bad_input(fmt::format("the rise must be at least 0 s; got {}", clamps.rise_s));
    double sum = 0;
    for (const Fall& fall : clamps.fall) {
        if (!(fall.part > 0) || !(fall.time_constant_s >= 0))
            return bad_input(
                fmt::format("a fall must have a part above 0 and no negative time constant; got {}, {} s",
                            fall.part, fall.time_constant_s));
        sum += fall.part;
    }
    if (!(std::abs(sum - 1) < 1e-9))
        return bad_input(fmt::format("the parts of the clamps' fall must add up to 1; got {}", sum));
    return std::nullopt;
}

std::optional<Error> problem_of(std::span<const double> times_s, const Clamps& clamps) {
    for (std::size_t i = 0; i < times_s.size(); ++i)
        if (!std::isfinite(times_s[i]) || (i > 0 && times_s[i] < times_s[i - 1]))
            return bad_input(fmt::format("times must be finite and ascending; got {} s", times_s[i]));
    if (clamps.hold_s && !times_s.empty() && times_s.front() < -*clamps.hold_s)
        return bad_input(fmt::format("the charging starts at {} s; got an earlier time, {} s",
                                     -*clamps.hold_s, times_s.front()));
    return std::nullopt;
}

std::optional<Error> problem_of(const Options& options) {
    if (options.tolerance >= 1e-12 && options.tolerance <= 0.1) return std::nullopt;
    return bad_input(fmt::format("the tolerance must lie in 1e-12 to 0.1; got {}", options.tolerance));
}

std::optional<Error> problem_of(const FaceView& view, double gap_m) {
    if (!(view.distance_m >= gap_m / 1000) || !std::isfinite(view.distance_m))
        return bad_input(fmt::format(
            "the sensor's distance must be at least a thousandth of the gap; got {} m", view.distance_m));
    if (!(view.aperture_m >= 0 && view.aperture_m <= std::min(gap_m, 20 * view.distance_m)))
        return bad_input(
            fmt::format("the sensor's opening must be no wider than the gap and 20 times its "
                        "distance from the sheet; got {} m",
                        view.aperture_m));
    return std::nullopt;
}

}  // namespace ebbtide::sheet
