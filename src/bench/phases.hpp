#pragma once
// The words of a guarded run: where it stands, what happens to it, what must hold before it goes on.

#include <string_view>

namespace ebbtide::bench {

enum class Phase {
    safe,      ///< output off, clamps earthed; specimens are mounted here
    waiting,   ///< shutter open, clamps earthed: neutralising has to settle, the residual is read
    zeroing,   ///< shutter closed, clamps earthed: the zero is read
    charging,  ///< output on, the electrode is on its way
    holding,   ///< the electrode stands at its voltage
    released,  ///< output off, clamps earthed: the specimen falls
    recorded,  ///< the run is whole, the bench is as in `safe`
    aborted,   ///< output off, clamps earthed, as far as the bench still obeys; a person has to look
};
inline constexpr Phase phases[] = {Phase::safe,    Phase::waiting,  Phase::zeroing,  Phase::charging,
                                   Phase::holding, Phase::released, Phase::recorded, Phase::aborted};

enum class Event {
    look,               ///< the bench was looked at and nothing is amiss
    asked,              ///< a run is asked for
    cleared,            ///< a person has looked after an abort and says that work may go on
    overrun,            ///< the phase has lasted longer than it may, and what it waits for has not come
    aborted_by_person,  ///< or by the program that drives
    link_lost,          ///< the bench does not answer, or refused a command
    interlock_open,     ///< or not read, while something is charged
    sensor_silent,      ///< no samples came
    voltage_lost,       ///< the electrode left the voltage that was set, or went to another
    output_unasked,     ///< the source reads on where it should be off
    clamps_live,        ///< the electrode did not come down after the release
};
inline constexpr Event events[] = {
    Event::look,         Event::asked,          Event::cleared,           Event::overrun,
    Event::link_lost,    Event::interlock_open, Event::aborted_by_person, Event::sensor_silent,
    Event::voltage_lost, Event::output_unasked, Event::clamps_live};

/// Must hold before a row of the transition table is taken.
enum class Guard {
    interlock_closed,
    output_read_off,
    electrode_near_zero,
    clamps_earthed,
    shutter_open,
    shutter_closed,
    waited,
    residual_read,
    residual_low,
    zero_read,
    zero_within_limit,
    arrived,
    charged,
    charge_accepted,
    level_reached,
    sensor_heard,
};
inline constexpr Guard guards[] = {
    Guard::interlock_closed, Guard::output_read_off,   Guard::electrode_near_zero,
    Guard::clamps_earthed,   Guard::shutter_open,      Guard::shutter_closed,
    Guard::waited,           Guard::residual_read,     Guard::residual_low,
    Guard::zero_read,        Guard::zero_within_limit, Guard::arrived,
    Guard::charged,          Guard::charge_accepted,   Guard::level_reached,
    Guard::sensor_heard};

/// As the enumerators are written: names of logs and documents.
[[nodiscard]] std::string_view name_of(Phase phase);
[[nodiscard]] std::string_view name_of(Event event);
[[nodiscard]] std::string_view name_of(Guard guard);

/// For the person at the bench: what the phase does, what happened, what is waited for.
[[nodiscard]] std::string_view words_of(Phase phase);
[[nodiscard]] std::string_view words_of(Event event);
[[nodiscard]] std::string_view words_of(Guard guard);
/// What mends it, when the run does not go on because of it. Empty for what mends itself with time.
[[nodiscard]] std::string_view remedy_of(Event event);
[[nodiscard]] std::string_view remedy_of(Guard guard);

}  // namespace ebbtide::bench
