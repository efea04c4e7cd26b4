#pragma once
// The guarded run as a table one can read: phase, event, guards, next phase, commands. What is not in the
// table does not happen. docs/formats/drive.md prints it; a test compares the two.

#include <string>
#include <vector>

#include "bench/bench.hpp"
#include "bench/phases.hpp"

namespace ebbtide::bench {

struct Transition {
    Phase from = Phase::safe;
    Event on = Event::look;
    std::vector<Guard> guards = {};  ///< all of them
    Phase to = Phase::aborted;
    std::vector<Action> commands = {};  ///< in this order
};
using TransitionTable = std::vector<Transition>;

/// Of several rows of a phase and an event the first whose guards all hold is taken.
[[nodiscard]] const TransitionTable& transition_table();

/// As rows of a Markdown table.
[[nodiscard]] std::string table_text(const TransitionTable& table);

/// What one look at the bench says. Everything starts as if nothing were known.
struct Seen {
    enum class Person { nothing, asks, aborts, clears } person = Person::nothing;
    bool link = false;
    State interlock_closed = State::unread;
    State output_on = State::unread;
    State earthed = State::unread;
    State shutter_closed = State::unread;
    bool sensor_heard = false;          ///< samples of both channels came
    bool electrode_near_zero = false;   ///< and heard
    bool electrode_off_course = false;  ///< charging: wrong side or far above; holding: out of tolerance
    bool coming_down = false;  ///< the time that the electrode is given after the release is not over
    bool waited = false, residual_read = false, residual_low = false;
    bool zero_read = false, zero_within_limit = false;
    bool arrived = false, charged = false, charge_accepted = false, level_reached = false;
    bool time_over = false;  ///< the phase has lasted as long as it may
};

[[nodiscard]] bool holds(Guard guard, const Seen& seen);
/// The gravest thing that a look shows in a phase; never `overrun`, which is for decide() to tell.
[[nodiscard]] Event event_of(Phase phase, const Seen& seen);

struct Decision {
    Event event = Event::look;
    const Transition* row = nullptr;  ///< null: nothing changes
    std::vector<Guard> unmet = {};    ///< what the first row of the phase and event still waits for
};
/// Pure.
[[nodiscard]] Decision decide(const TransitionTable& table, Phase phase, const Seen& seen);

}  // namespace ebbtide::bench
