// Every reachable (phase, event) pair of the guarded run, explored by breadth-first search over everything
// that a look may show: the bench may do anything at all between two looks, so no order of readings is taken
// for granted. What must never happen is written down apart from the table, and every guard and every way to
// an abort is shown to be needed: without it the search finds a path that must not be.

#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <deque>
#include <iostream>
#include <set>
#include <string>

#include "bench/transition_table.hpp"

namespace ebbtide::bench {
namespace {

/// What the search carries beside the phase: what was commanded, and what was shown since a run was asked
/// for.
struct World {
    Phase phase = Phase::aborted;
    bool on = false;              ///< the last that was commanded
    bool residual_shown = false;  ///< in this run, with the shutter open and the clamps earthed
    bool zero_shown = false;      ///< in this run, in its proven state
    bool voltage_reached = false;
    auto operator<=>(const World&) const = default;
};

/// Every combination of what a look can show that the phase has a use for. The rest stays unknown, which is
/// the graver reading.
std::vector<Seen> looks_in(Phase phase) {
    constexpr std::array<State, 3> states{State::unread, State::no, State::yes};
    using Person = Seen::Person;
    std::vector<Seen> out;
    Seen lost;
    out.push_back(lost);
    const bool zeroing = phase == Phase::zeroing, waiting = phase == Phase::waiting;
    const bool holding = phase == Phase::holding, released = phase == Phase::released;
    const bool charging = phase == Phase::charging;
    const auto states_of = [&](bool used) {
        return used ? std::vector<State>(states.begin(), states.end()) : std::vector<State>{State::unread};
    };
    const std::vector<State> earths = states_of(waiting || zeroing || released);
    const std::vector<State> shutters = states_of(waiting || zeroing || charging);
    std::vector<Person> people{Person::nothing, Person::aborts};
    if (phase == Phase::safe || phase == Phase::recorded) people.push_back(Person::asks);
    if (phase == Phase::aborted) people.push_back(Person::clears);
    for (const State interlock : states)
        for (const State output : states)
            for (const State earthed : earths)
                for (const State shutter : shutters)
                    for (const Person person : people)
                        for (unsigned bits = 0; bits < 256; ++bits) {
                            const auto bit = [&](unsigned which) { return (bits >> which & 1u) != 0; };
                            Seen seen;
                            seen.link = true;
                            seen.interlock_closed = interlock;
                            seen.output_on = output;
                            seen.earthed = earthed;
                            seen.shutter_closed = shutter;
                            seen.person = person;
                            seen.sensor_heard = bit(0);
                            seen.electrode_near_zero = bit(1);
                            seen.time_over = bit(2);
                            // Three bits whose meaning the phase decides.
                            if (waiting) seen.waited = bit(3), seen.residual_read = bit(4);
                            if (zeroing)
                                seen.zero_read = bit(3), seen.zero_within_limit = bit(4),
                                seen.residual_low = bit(5);
                            if (charging) seen.arrived = bit(3), seen.electrode_off_course = bit(4);
                            if (holding)
                                seen.charged = bit(3), seen.charge_accepted = bit(4),
                                seen.electrode_off_course = bit(5);
                            if (released) seen.level_reached = bit(3), seen.coming_down = bit(4);
                            // Bits without a meaning would only repeat the others.
                            const unsigned used = zeroing || holding                ? 6u
                                                  : waiting || charging || released ? 5u
                                                                                    : 3u;
                            if (bits >> used != 0) continue;
                            out.push_back(seen);
                        }
    return out;
}

bool commands(const Transition& row, Action action) {
    return std::ranges::find(row.commands, action) != row.commands.end();
}

struct Explored {
    std::set<std::pair<Phase, Event>> pairs;
    std::set<Phase> reached;
    std::set<std::string> broken;  ///< rules, in words
    std::size_t worlds = 0, steps = 0;
};

Explored explore(const TransitionTable& table) {
    Explored found;
    std::set<World> known;
    std::deque<World> open;
    // A session starts on a bench of which nothing is known: the output may be on from before.
    for (const bool on : {false, true}) open.push_back({Phase::aborted, on});
    known.insert(open.begin(), open.end());
    std::array<std::vector<Seen>, std::size(phases)> looks;
    for (const Phase phase : phases) looks[static_cast<std::size_t>(phase)] = looks_in(phase);
    const auto rule = [&](bool kept, const char* words) {
        if (!kept) found.broken.insert(words);
    };
    while (!open.empty()) {
        const World world = open.front();
        open.pop_front();
        found.reached.insert(world.phase);
        for (const Seen& seen : looks[static_cast<std::size_t>(world.phase)]) {
            ++found.steps;
            const Decision decision = decide(table, world.phase, seen);
            found.pairs.emplace(world.phase, decision.event);
            World next = world;
            const bool live = world.phase == Phase::charging || world.phase == Phase::holding;
            bool turns_on = false, turns_off = false, sets = false;
            if (const Transition* row = decision.row) {
                turns_on = commands(*row, Action::output_on);
                turns_off = commands(*row, Action::output_off);
                sets = commands(*row, Action::set_voltage);
                next.phase = row->to;
                if (turns_on) next.on = true;
                if (turns_off) next.on = false;
                if (row->to == Phase::waiting) next.residual_shown = next.zero_shown = false;
                if (world.phase == Phase::waiting && row->to == Phase::zeroing)
                    next.residual_shown = seen.shutter_closed == State::no && seen.earthed == State::yes &&
                                          seen.waited && seen.residual_read;
                if (turns_on)
                    next.zero_shown =
                        seen.shutter_closed == State::yes && seen.earthed == State::yes && seen.zero_read;
                if (row->to != world.phase) next.voltage_reached = false;
                if (row->to == Phase::holding)
                    next.voltage_reached = seen.arrived && seen.shutter_closed == State::no;
                if (row->to == Phase::recorded)
                    rule(
                        seen.output_on == State::no && seen.earthed == State::yes && seen.electrode_near_zero,
                        "a run is recorded only with the clamps earthed and the source off");
                if (row->to == Phase::recorded)
                    rule(seen.level_reached || seen.time_over, "a fall is followed to its last level");
                if (world.phase == Phase::holding && row->to == Phase::released)
                    rule((seen.charged && seen.charge_accepted) || seen.time_over,
                         "the release waits for the charging time and the charge");
                if (row->to == Phase::waiting)
                    rule(seen.interlock_closed == State::yes && seen.output_on == State::no &&
                             seen.electrode_near_zero,
                         "a run begins with the door closed, the source off and the electrode empty");
                if (row->to == Phase::waiting) rule(seen.sensor_heard, "no run begins before samples come");
                if (world.phase == Phase::aborted && row->to == Phase::safe)
                    rule(seen.output_on == State::no && seen.electrode_near_zero,
                         "work goes on after an abort only when the bench is empty");
                if (turns_on) {
                    rule(seen.interlock_closed == State::yes,
                         "no output on with the interlock open or unread");
                    rule(seen.output_on == State::no, "no output on over an output that is not off");
                    rule(next.zero_shown, "zero before each run, in its proven state");
                    rule(seen.zero_within_limit, "no run on a zero beyond its limit");
                    rule(world.residual_shown && seen.residual_low,
                         "no run over a residual beyond its limit");
                    rule(row->commands.back() == Action::output_on, "the output comes on last");
                }
                if (sets)
                    rule(seen.electrode_near_zero && !world.on && seen.output_on == State::no,
                         "polarity changes only with the output off and the electrode near zero");
                if (world.phase == Phase::holding && row->to == Phase::released)
                    rule(world.voltage_reached, "no release before the electrode had arrived");
            }
            if (live && next.on) {
                rule(seen.link, "a lost link ends what is live");
                rule(seen.interlock_closed == State::yes,
                     "no output stays on with the interlock open or unread");
                rule(seen.person != Seen::Person::aborts, "a person's stop switches off");
                rule(seen.sensor_heard, "a silent sensor switches off");
                rule(!seen.electrode_off_course, "a voltage that was lost switches off");
                rule(!seen.time_over || next.phase != world.phase, "no live phase outlasts its time");
            }
            if (world.phase == Phase::released && next.phase == Phase::released && seen.link) {
                rule(seen.coming_down || (seen.electrode_near_zero && seen.output_on != State::yes),
                     "clamps that stay live are told");
                rule(!seen.time_over, "no fall is followed without end");
                rule(seen.interlock_closed == State::yes, "a door that opens during the fall ends the run");
                rule(seen.sensor_heard && seen.person != Seen::Person::aborts, "a fall unheard ends the run");
            }
            if (next.phase == world.phase && (world.phase == Phase::waiting || world.phase == Phase::zeroing))
                rule(seen.link && seen.sensor_heard && seen.person != Seen::Person::aborts &&
                         !seen.time_over && seen.output_on != State::yes,
                     "preparing ends when something is amiss");
            if (!seen.link)
                rule(next.phase == Phase::aborted && turns_off, "a lost link is a state of its own");
            if (seen.link && seen.person == Seen::Person::aborts)
                rule(next.phase == Phase::aborted && turns_off, "an abort switches off from every phase");
            // Whatever is shown where nothing should be on, the source is told again.
            if (seen.link && seen.output_on == State::yes && !live && world.phase != Phase::released)
                rule(turns_off, "an output found on is switched off");
            if (world.phase == Phase::aborted && next.phase == Phase::aborted && seen.output_on != State::no)
                rule(turns_off, "an output that cannot be read is switched off again");
            const bool at_end = next.phase == Phase::safe || next.phase == Phase::recorded ||
                                next.phase == Phase::aborted || next.phase == Phase::released ||
                                next.phase == Phase::waiting || next.phase == Phase::zeroing;
            // At the very start nothing was sent yet: bench::start() does that before the first look.
            if (at_end && decision.row && next.phase != world.phase)
                rule(!next.on, "no path leaves the output on after the end");
            if (known.insert(next).second) open.push_back(next);
        }
    }
    found.worlds = known.size();
    return found;
}

std::string all_of(const std::set<std::string>& words) {
    std::string text;
    for (const std::string& one : words) text += "\n  " + one;
    return text;
}

}  // namespace

TEST(GuardedRunModel, NoReachablePairBreaksARule) {
    const Explored found = explore(transition_table());
    std::cout << "[ pairs    ] " << found.pairs.size() << " of phase and event, " << found.worlds
              << " states, " << found.steps << " steps\n";
    EXPECT_EQ(found.broken.size(), 0u) << all_of(found.broken);
    EXPECT_EQ(found.reached.size(), std::size(phases));
    EXPECT_EQ(found.pairs.size(), 48u);
}

TEST(GuardedRunModel, EveryPairThatMattersHasARow) {
    for (const auto& [phase, event] : explore(transition_table()).pairs) {
        if (event == Event::look) continue;
        EXPECT_TRUE(std::ranges::any_of(
            transition_table(),
            [phase = phase, event = event](const auto& row) { return row.from == phase && row.on == event; }))
            << name_of(phase) << ", " << name_of(event);
    }
}

TEST(GuardedRunModel, EveryGuardIsNeeded) {
    std::size_t removed = 0;
    for (std::size_t row = 0; row < transition_table().size(); ++row)
        for (std::size_t guard = 0; guard < transition_table()[row].guards.size(); ++guard) {
            TransitionTable table = transition_table();
            const Guard gone = table[row].guards[guard];
            table[row].guards.erase(table[row].guards.begin() + static_cast<std::ptrdiff_t>(guard));
            EXPECT_FALSE(explore(table).broken.empty())
                << name_of(table[row].from) << ", " << name_of(table[row].on) << " without " << name_of(gone);
            ++removed;
        }
    std::cout << "[ guards   ] " << removed << " removed one at a time\n";
    EXPECT_GE(removed, std::size(guards));
}

TEST(GuardedRunModel, EveryWayToAnAbortIsNeeded) {
    for (std::size_t row = 0; row < transition_table().size(); ++row) {
        TransitionTable table = transition_table();
        const Transition gone = table[row];
        if (gone.to != Phase::aborted && gone.on != Event::output_unasked) continue;
        table.erase(table.begin() + static_cast<std::ptrdiff_t>(row));
        EXPECT_FALSE(explore(table).broken.empty()) << name_of(gone.from) << ", " << name_of(gone.on);
    }
}

TEST(GuardedRunModel, EveryCommandOfTheTableIsNeeded) {
    // Without output_off on any way out, something stays on or is not told.
    for (std::size_t row = 0; row < transition_table().size(); ++row) {
        TransitionTable table = transition_table();
        if (table[row].from != Phase::charging && table[row].from != Phase::holding) continue;
        auto& sent = table[row].commands;
        if (std::erase(sent, Action::output_off) == 0) continue;
        EXPECT_FALSE(explore(table).broken.empty())
            << name_of(table[row].from) << ", " << name_of(table[row].on);
    }
}

}  // namespace ebbtide::bench
