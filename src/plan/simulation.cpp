#include "plan/simulation.hpp"

#include <algorithm>
#include <array>

namespace ebbtide::plan {
namespace {

constexpr std::array<FaultFacts, fault_count> fault_list{{
    {FaultKind::interlock_opens,
     "interlock_opens",
     "",
     "",
     0,
     0,
     {},
     "the interlock opens: the output goes off"},
    {FaultKind::source_sags, "source_sags", "by_fraction", "", 0, 1, 0.2,
     "the source gives less than it is set to"},
    {FaultKind::source_trips,
     "source_trips",
     "",
     "",
     0,
     0,
     {},
     "the source trips and stays off until it is reset"},
    {FaultKind::relay_bounces, "relay_bounces", "bounce_s", "s", 0, 10, 0.005,
     "the earthing relay springs back to the source once"},
    {FaultKind::forgotten_resistor, "forgotten_resistor", "resistance_ohm", "ohm", 1, 1e12, 5e8,
     "the clamps are earthed through a resistor that somebody forgot"},
    {FaultKind::sensor_clips,
     "sensor_clips",
     "level_V",
     "V",
     0,
     1e6,
     {},
     "the sensor shows no more than a level"},
    {FaultKind::sensor_drifts,
     "sensor_drifts",
     "drift_V_per_s",
     "V/s",
     -1e6,
     1e6,
     {},
     "the sensor's zero drifts"},
    {FaultKind::sensor_silent, "sensor_silent", "", "", 0, 0, {}, "the sensor gives nothing"},
    {FaultKind::no_charge_taken,
     "no_charge_taken",
     "",
     "",
     0,
     0,
     {},
     "the sheet is so good an insulator that it takes no charge"},
    {FaultKind::slips_out, "slips_out", "contact_ohm_m", "ohm m", 0, 1e18, 1e16,
     "the sheet slips out of a clamp"},
    {FaultKind::humidity_excursion,
     "humidity_excursion",
     "relative_humidity_percent",
     "%",
     0,
     100,
     {},
     "the air is not what it should be"},
    {FaultKind::wrong_check_standard, "wrong_check_standard", "resistance_factor", "", 1e-6, 1e6, 2.0,
     "another check standard is mounted than the one that was asked for"},
    {FaultKind::readback_wrong,
     "readback_wrong",
     "",
     "",
     0,
     0,
     {},
     "a readback shows what is not so, or nothing"},
    {FaultKind::link_lost, "link_lost", "", "", 0, 0, {}, "the link to the bench is lost"},
    {FaultKind::commands_late, "commands_late", "delay_s", "s", 0, 1000, 0.5, "commands are obeyed late"},
}};

}  // namespace

const FaultFacts& facts(FaultKind kind) {
    return fault_list[static_cast<std::size_t>(kind)];
}

std::string_view name_of(Readback readback) {
    constexpr std::array<std::string_view, 4> names{"interlock", "output", "earth", "shutter"};
    return names[static_cast<std::size_t>(readback)];
}

const SimulatedSpecimen* Simulation::specimen(std::string_view id) const {
    const auto found = std::ranges::find(specimens, id, &SimulatedSpecimen::id);
    return found == specimens.end() ? nullptr : &*found;
}

}  // namespace ebbtide::plan
