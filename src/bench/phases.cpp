#include "bench/phases.hpp"

#include <array>

namespace ebbtide::bench {
namespace {

struct PhaseWords {
    std::string_view name, words;
};
constexpr std::array<PhaseWords, 8> phase_words{{
    {"safe", "output off, clamps earthed"},
    {"waiting", "waiting after neutralising, then reading the residual"},
    {"zeroing", "shutter closed, reading the zero"},
    {"charging", "output on, the electrode rises"},
    {"holding", "the electrode stands at its voltage"},
    {"released", "clamps earthed, the specimen falls"},
    {"recorded", "the run is recorded, output off, clamps earthed"},
    {"aborted", "stopped: output switched off, clamps earthed"},
}};

struct Words {
    std::string_view name, words, remedy;
};
constexpr std::array<Words, 11> event_words{{
    {"look", "nothing is amiss", ""},
    {"asked", "a run is asked for", ""},
    {"cleared", "a person has looked and lets work go on", ""},
    {"overrun", "the phase lasted longer than it may", "See what it was waiting for"},
    {"aborted_by_person", "a person stopped the run", ""},
    {"link_lost", "the bench does not answer",
     "Switch the source off by hand: it may be on. Earth the electrodes with the stick, then mend the line"},
    {"interlock_open", "the interlock is open or cannot be read",
     "Close the door; check the interlock's line"},
    {"sensor_silent", "no samples come from the sensor", "Check the sensor, its supply and the recorder"},
    {"voltage_lost", "the electrode left the voltage that was set",
     "Check the source (tripped?), its lead and the clamps for a spark or a leak"},
    {"output_unasked", "the source reads on and should be off",
     "Switch it off by hand if it does not go off now"},
    {"clamps_live", "the electrode stayed up after the clamps were earthed",
     "Keep the door closed. Switch the source off by hand, wait for the bleed resistor, use the earth stick"},
}};

constexpr std::array<Words, 16> guard_words{{
    {"interlock_closed", "interlock read and closed", "Close the door"},
    {"output_read_off", "source read back as off", "Switch the source off by hand"},
    {"electrode_near_zero", "electrode near zero",
     "Wait for the bleed resistor; check the earth of the clamps"},
    {"clamps_earthed", "clamps read as earthed", "Check the earthing relay"},
    {"shutter_open", "shutter read as open", "Check the shutter"},
    {"shutter_closed", "shutter read as closed", "Check the shutter"},
    {"waited", "waited long enough since neutralising", ""},
    {"residual_read", "residual read for long enough", ""},
    {"residual_low", "residual within its limit", "Neutralise the specimen again, then wait"},
    {"zero_read", "zero read for long enough", ""},
    {"zero_within_limit", "zero within its limit", "Let the sensor warm up; clean its face; set its zero"},
    {"arrived", "electrode arrived and steady",
     "Check the source's limit of current and the clamps for leaks"},
    {"charged", "charged for as long as the method asks", ""},
    {"charge_accepted", "specimen accepted its charge",
     "Check the clamps' contact; some materials take none"},
    {"level_reached", "last decay level reached and passed", ""},
    {"sensor_heard", "samples come from sensor and electrode",
     "Check the sensor, its supply and the recorder"},
}};

const Words& of(Event event) {
    return event_words[static_cast<std::size_t>(event)];
}
const Words& of(Guard guard) {
    return guard_words[static_cast<std::size_t>(guard)];
}

}  // namespace

std::string_view name_of(Phase phase) {
    return phase_words[static_cast<std::size_t>(phase)].name;
}
std::string_view words_of(Phase phase) {
    return phase_words[static_cast<std::size_t>(phase)].words;
}
std::string_view name_of(Event event) {
    return of(event).name;
}
std::string_view name_of(Guard guard) {
    return of(guard).name;
}
std::string_view words_of(Event event) {
    return of(event).words;
}
std::string_view words_of(Guard guard) {
    return of(guard).words;
}
std::string_view remedy_of(Event event) {
    return of(event).remedy;
}
std::string_view remedy_of(Guard guard) {
    return of(guard).remedy;
}

}  // namespace ebbtide::bench
