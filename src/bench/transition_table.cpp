#include "bench/transition_table.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace ebbtide::bench {
namespace {

/// Every way to an abort switches off before it earths; a source must not be laid to earth.
const std::vector<Action> all_off{Action::output_off, Action::earth_clamps};
const std::vector<Action> at_rest{Action::output_off, Action::earth_clamps, Action::close_shutter};

TransitionTable written_out() {
    using enum Action;
    using enum Guard;
    TransitionTable table{
        // The way of a run.
        {Phase::safe,
         Event::asked,
         {interlock_closed, output_read_off, sensor_heard, electrode_near_zero},
         Phase::waiting,
         {output_off, earth_clamps, open_shutter}},
        {Phase::waiting,
         Event::look,
         {shutter_open, clamps_earthed, waited, residual_read},
         Phase::zeroing,
         {close_shutter}},
        {Phase::zeroing,
         Event::look,
         {shutter_closed, clamps_earthed, zero_read, zero_within_limit, residual_low, interlock_closed,
          output_read_off, electrode_near_zero},
         Phase::charging,
         {open_shutter, lift_earth, set_voltage, output_on}},
        {Phase::charging, Event::look, {shutter_open, arrived}, Phase::holding, {}},
        {Phase::holding, Event::look, {charged, charge_accepted}, Phase::released, all_off},
        // A specimen that takes no charge is a result too.
        {Phase::holding, Event::overrun, {}, Phase::released, all_off},
        {Phase::released,
         Event::look,
         {level_reached, output_read_off, clamps_earthed, electrode_near_zero},
         Phase::recorded,
         at_rest},
        // A level that was not reached is a result too.
        {Phase::released,
         Event::overrun,
         {output_read_off, clamps_earthed, electrode_near_zero},
         Phase::recorded,
         at_rest},
        {Phase::recorded,
         Event::asked,
         {interlock_closed, output_read_off, sensor_heard, electrode_near_zero},
         Phase::waiting,
         {output_off, earth_clamps, open_shutter}},
        {Phase::aborted, Event::cleared, {electrode_near_zero}, Phase::safe, at_rest},
        // A session starts as after an abort: nothing is known, and a run that was killed may have left it
        // on.
        {Phase::aborted, Event::output_unasked, {}, Phase::aborted, all_off},
        {Phase::aborted, Event::aborted_by_person, {}, Phase::aborted, all_off},
        {Phase::aborted, Event::link_lost, {}, Phase::aborted, all_off},
    };
    const auto aborts = [&](Event event, std::initializer_list<Phase> from) {
        for (const Phase phase : from) table.push_back({phase, event, {}, Phase::aborted, all_off});
    };
    using enum Phase;
    aborts(Event::link_lost, {safe, waiting, zeroing, charging, holding, released, recorded});
    aborts(Event::aborted_by_person, {safe, waiting, zeroing, charging, holding, released, recorded});
    aborts(Event::interlock_open, {charging, holding, released});
    aborts(Event::sensor_silent, {waiting, zeroing, charging, holding, released});
    aborts(Event::voltage_lost, {charging, holding});
    aborts(Event::clamps_live, {released});
    aborts(Event::output_unasked, {safe, waiting, zeroing, recorded});
    aborts(Event::overrun, {waiting, zeroing, charging, released});
    return table;
}

template <class List>
std::string joined(const List& list) {
    std::string text;
    for (const auto& one : list) text += fmt::format("{}`{}`", text.empty() ? "" : ", ", name_of(one));
    return text;
}

}  // namespace

const TransitionTable& transition_table() {
    static const TransitionTable table = written_out();
    return table;
}

std::string table_text(const TransitionTable& table) {
    std::string text = "| phase | event | guards | next | commands |\n|---|---|---|---|---|\n";
    for (const Transition& row : table)
        text += fmt::format("| `{}` | `{}` | {} | `{}` | {} |\n", name_of(row.from), name_of(row.on),
                            joined(row.guards), name_of(row.to), joined(row.commands));
    return text;
}

bool holds(Guard guard, const Seen& seen) {
    switch (guard) {
        case Guard::interlock_closed:
            return seen.interlock_closed == State::yes;
        case Guard::output_read_off:
            return seen.output_on == State::no;
        case Guard::electrode_near_zero:
            return seen.electrode_near_zero;
        case Guard::clamps_earthed:
            return seen.earthed == State::yes;
        case Guard::shutter_open:
            return seen.shutter_closed == State::no;
        case Guard::shutter_closed:
            return seen.shutter_closed == State::yes;
        case Guard::waited:
            return seen.waited;
        case Guard::residual_read:
            return seen.residual_read;
        case Guard::residual_low:
            return seen.residual_low;
        case Guard::zero_read:
            return seen.zero_read;
        case Guard::zero_within_limit:
            return seen.zero_within_limit;
        case Guard::arrived:
            return seen.arrived;
        case Guard::charged:
            return seen.charged;
        case Guard::charge_accepted:
            return seen.charge_accepted;
        case Guard::level_reached:
            return seen.level_reached;
        case Guard::sensor_heard:
            return seen.sensor_heard;
    }
    return false;
}

Event event_of(Phase phase, const Seen& seen) {
    const bool live = phase == Phase::charging || phase == Phase::holding;
    const bool running =
        live || phase == Phase::waiting || phase == Phase::zeroing || phase == Phase::released;
    if (!seen.link) return Event::link_lost;
    if (seen.person == Seen::Person::aborts) return Event::aborted_by_person;
    // A door that opens during the fall endangers nobody more than before, but the field is another one.
    if ((live || phase == Phase::released) && seen.interlock_closed != State::yes)
        return Event::interlock_open;
    if (running && !seen.sensor_heard) return Event::sensor_silent;
    if (phase == Phase::released && !seen.coming_down &&
        (!seen.electrode_near_zero || seen.output_on == State::yes))
        return Event::clamps_live;
    if (live && seen.electrode_off_course) return Event::voltage_lost;
    // After an abort nothing is taken for granted: a source that cannot be read is told again.
    if (phase == Phase::aborted ? seen.output_on != State::no
                                : !live && phase != Phase::released && seen.output_on == State::yes)
        return Event::output_unasked;
    if ((phase == Phase::safe || phase == Phase::recorded) && seen.person == Seen::Person::asks)
        return Event::asked;
    if (phase == Phase::aborted && seen.person == Seen::Person::clears) return Event::cleared;
    return Event::look;
}

Decision decide(const TransitionTable& table, Phase phase, const Seen& seen) {
    Decision decision;
    decision.event = event_of(phase, seen);
    const auto take = [&](Event event) {
        bool first = true;
        for (const Transition& row : table) {
            if (row.from != phase || row.on != event) continue;
            std::vector<Guard> unmet;
            std::ranges::copy_if(row.guards, std::back_inserter(unmet),
                                 [&](Guard guard) { return !holds(guard, seen); });
            if (unmet.empty()) {
                decision.row = &row;
                decision.event = event;
                return;
            }
            if (first && decision.unmet.empty()) decision.unmet = std::move(unmet);
            first = false;
        }
    };
    take(decision.event);
    if (!decision.row && decision.event == Event::look && seen.time_over) take(Event::overrun);
    return decision;
}

}  // namespace ebbtide::bench
