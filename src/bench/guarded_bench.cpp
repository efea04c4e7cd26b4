#include "bench/guarded_bench.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "basis/number_text.hpp"
#include "plan/flag.hpp"

namespace ebbtide::bench {
namespace {

constexpr const char* always_charged =
    "The specimen stays charged after the clamps are earthed: earth it before touching.";

std::string joined_words(const std::vector<Guard>& unmet) {
    std::string text;
    for (const Guard guard : unmet) text += fmt::format("{}{}", text.empty() ? "" : "; ", words_of(guard));
    return text;
}

std::string remedies_of(const std::vector<Guard>& unmet) {
    std::string text;
    for (const Guard guard : unmet)
        if (const auto remedy = remedy_of(guard); !remedy.empty())
            text += fmt::format("{}{}", text.empty() ? "" : ". ", remedy);
    return text;
}

/// Of the row that is tried first.
std::vector<Guard> first_guards(Phase phase, Event event) {
    for (const Transition& row : transition_table())
        if (row.from == phase && row.on == event) return row.guards;
    return {};
}

bool wants_keeping(Phase phase) {
    return phase == Phase::zeroing || phase == Phase::charging || phase == Phase::holding ||
           phase == Phase::released;
}

}  // namespace

std::vector<GuardSeen> guards_ahead(Phase phase) {
    std::vector<GuardSeen> out;
    for (const Guard guard : first_guards(phase, Event::look)) out.push_back({guard, {}});
    return out;
}

std::string_view name_of(Happening::Kind kind) {
    switch (kind) {
        case Happening::Kind::phase:
            return "phase";
        case Happening::Kind::command:
            return "command";
        case Happening::Kind::refused:
            return "refused";
        case Happening::Kind::waits:
            return "waits";
        case Happening::Kind::found:
            return "found";
        case Happening::Kind::live:
            return "live";
    }
    return "";
}

std::string words_of(const Happening& happening) {
    switch (happening.kind) {
        case Happening::Kind::phase:
            return happening.event == Event::look || happening.event == Event::asked ||
                           happening.event == Event::cleared
                       ? fmt::format("{}: {}", name_of(happening.phase), words_of(happening.phase))
                       : fmt::format("{}: {}", name_of(happening.phase), words_of(happening.event));
        case Happening::Kind::command:
        case Happening::Kind::refused: {
            const Command command = happening.command.value_or(Command{});
            std::string text = plan::in_words(name_of(command.action));
            if (command.action == Action::set_voltage)
                text += fmt::format(" {} V", shortest_text(command.voltage_V));
            return happening.kind == Happening::Kind::command
                       ? text
                       : fmt::format("{} was not taken: {}", text, happening.words);
        }
        case Happening::Kind::waits:
            return happening.unmet.empty() ? "" : "waiting for: " + joined_words(happening.unmet);
        case Happening::Kind::found:
        case Happening::Kind::live:
            return happening.words;
    }
    return "";
}

std::string Driven::words() const {
    if (recorded) return "";
    std::string text;
    if (!began)
        text = ended_by == Event::look || ended_by == Event::asked
                   ? fmt::format("The run could not begin, for want of: {}", joined_words(unmet))
                   : fmt::format("The run could not begin: {}", words_of(ended_by));
    else
        text = fmt::format("Stopped while {}: {}", name_of(during), words_of(ended_by));
    if (began && ended_by == Event::overrun && !unmet.empty())
        text += fmt::format(" (waited for: {})", joined_words(unmet));
    text += ".";
    std::string remedy(remedy_of(ended_by));
    if (ended_by == Event::overrun || !began) {
        const std::string more = remedies_of(unmet);
        if (!more.empty()) remedy = more;
    }
    if (!remedy.empty()) text += fmt::format(" {}.", remedy);
    if (!may_be_live.empty())
        text += " " + may_be_live;
    else if (began)
        text += fmt::format(" {}", always_charged);
    return text;
}

GuardedBench::GuardedBench(Bench& bench, const plan::DriveLimits& limits, const Scales& scales, Ports ports)
    : bench_(bench), limits_(limits), scales_(scales), ports_(std::move(ports)) {}

GuardedBench::~GuardedBench() {
    if (!may_be_on_ && (state_.phase == Phase::safe || state_.phase == Phase::recorded)) return;
    // Whoever listened may be what failed.
    ports_.tell = {};
    try {
        send_off();
    } catch (...) {
    }
}

void GuardedBench::tell(Happening happening) const {
    happening.bench_s = state_.now_s;
    if (ports_.tell) ports_.tell(happening);
}

void GuardedBench::tell_waits(const Step& taken) {
    const auto waits = [&](Guard guard) {
        return std::ranges::find(taken.unmet, guard) != taken.unmet.end();
    };
    const bool reading = waits(Guard::zero_read), charging = waits(Guard::charged);
    // Of what is still being read nobody can say yet whether it keeps its limit.
    const auto open = [&](Guard guard) {
        return (reading && (guard == Guard::zero_within_limit || guard == Guard::residual_low)) ||
               (charging && guard == Guard::charge_accepted);
    };
    std::vector<Guard> unmet = taken.unmet;
    std::erase_if(unmet, open);
    if (unmet == waits_for_) return;
    waits_for_ = unmet;
    if (unmet.empty()) return;
    std::vector<GuardSeen> seen;
    for (const Guard guard : first_guards(state_.phase, taken.event))
        seen.push_back({guard, open(guard) ? std::nullopt : std::optional(!waits(guard))});
    tell({.kind = Happening::Kind::waits, .phase = state_.phase, .unmet = unmet, .guards = seen});
}

bool GuardedBench::send_all(const std::vector<Command>& commands) {
    bool all = true;
    for (const Command& command : commands) {
        const bool makes_safe =
            command.action == Action::output_off || command.action == Action::earth_clamps;
        // What was refused before it is part of what makes the next one harmless.
        if (!all && !makes_safe) continue;
        if (command.action == Action::output_on) may_be_on_ = true;
        const auto sent = bench_.send(command);
        if (sent) {
            tell({.kind = Happening::Kind::command, .phase = state_.phase, .command = command});
            continue;
        }
        all = false;
        tell({.kind = Happening::Kind::refused,
              .phase = state_.phase,
              .command = command,
              .words = sent.error().text()});
    }
    return all;
}

/// Best effort, and both whatever comes of the first.
void GuardedBench::send_off() {
    send_all({{Action::output_off, 0}, {Action::earth_clamps, 0}});
}

Step GuardedBench::go_on(Seen::Person person, const std::optional<RunAim>& aim) {
    std::optional<Observation> observed;
    if (link_) {
        auto answer = bench_.observe(limits_.look_s);
        link_ = answer.ok();
        if (answer) observed = std::move(answer).value();
    }
    if (ports_.stop && ports_.stop()) person = Seen::Person::aborts;
    if (observed) {
        if (ports_.look) ports_.look(*observed);
        output_on_ = observed->output_on;
        if (output_on_ == State::no && state_.phase != Phase::charging && state_.phase != Phase::holding)
            may_be_on_ = false;
        if (ports_.keep && wants_keeping(state_.phase)) ports_.keep(*observed, state_);
    } else {
        output_on_ = State::unread;
    }
    Step taken = step(state_, limits_, scales_, {observed ? &*observed : nullptr, person, aim});
    state_ = taken.state;
    if (!send_all(taken.commands) && state_.phase != Phase::aborted) {
        // A command that did not come through: what the bench is in now is unknown.
        state_.phase = Phase::aborted;
        state_.phase_from_s = state_.now_s;
        state_.ended_by = taken.event = Event::link_lost;
        taken.entered = true;
        taken.state = state_;
        send_off();
    }
    if (taken.entered) {
        waits_for_.clear();
        tell({.kind = Happening::Kind::phase,
              .phase = state_.phase,
              .event = taken.event,
              .guards = guards_ahead(state_.phase),
              .lasts_s = set_length_s(state_, limits_)});
    } else {
        // What the phase before still waited for when its time was over is no concern of the new one.
        tell_waits(taken);
    }
    return taken;
}

std::string GuardedBench::what_may_be_live() const {
    const bool heard =
        state_.electrode_heard_s > 0 && state_.now_s - state_.electrode_heard_s <= limits_.silent_after_s;
    const bool near_zero = heard && std::abs(state_.electrode_V) <= limits_.near_zero_V;
    if (link_ && near_zero && output_on_ == State::no) return "";
    std::string text;
    if (!link_)
        text = "The link is lost: the source may still be on and the electrodes live. ";
    else if (output_on_ != State::no)
        text = output_on_ == State::yes ? "The source still reads on. "
                                        : "Whether the source is off could not be read. ";
    if (link_ && !near_zero) text += "The electrodes do not read near zero and may be live. ";
    return text +
           "Keep the door closed, switch the source off by hand, wait for the bleed resistor and use the "
           "earth stick.";
}

/// Looks until output and electrode show as off and empty, as long as the limits give the electrode; then
/// says what does not.
std::string GuardedBench::look_until_dead(Seen::Person person) {
    const double until_s = state_.now_s + limits_.earth_within_s + 2 * limits_.look_s;
    while (state_.now_s < until_s && link_) {
        go_on(person);
        if (state_.phase != Phase::aborted || (person == Seen::Person::nothing && what_may_be_live().empty()))
            return "";
    }
    const std::string live = what_may_be_live();
    if (!live.empty()) tell({.kind = Happening::Kind::live, .phase = state_.phase, .words = live});
    return live;
}

Found GuardedBench::make_safe() {
    Found found;
    // Looked at first: a source that was left on must be named. Off follows in any case.
    auto before = bench_.observe(limits_.look_s);
    found.answers = link_ = before.ok();
    const bool first = state_.now_s == 0;
    state_ = {};
    if (before) {
        if (ports_.look) ports_.look(*before);
        found.output_was_on = before->output_on == State::yes;
        state_.now_s = state_.phase_from_s = before->from_s;
    }
    send_all(first_commands());
    if (found.output_was_on && first)
        tell({.kind = Happening::Kind::found,
              .phase = state_.phase,
              .words = "The source was found on: a run before was not ended. It was switched off first."});
    found.may_be_live = look_until_dead(Seen::Person::clears);
    found.at_rest = state_.phase == Phase::safe || (link_ && found.may_be_live.empty());
    return found;
}

bool GuardedBench::rest(double duration_s) {
    const double until_s = state_.now_s + duration_s;
    while (state_.now_s < until_s) {
        go_on(Seen::Person::nothing);
        if (state_.phase == Phase::aborted) return false;
    }
    return true;
}

Driven GuardedBench::run(const RunAim& aim) {
    Driven driven;
    driven.ended_by = state_.ended_by;
    const double asked_s = state_.now_s;
    while (state_.phase == Phase::safe || state_.phase == Phase::recorded) {
        const Step taken = go_on(Seen::Person::asks, aim);
        driven.ended_by = taken.event;
        driven.unmet = taken.unmet;
        if (!taken.entered && state_.now_s - asked_s >= limits_.prepare_within_s) return driven;
    }
    driven.began = state_.phase == Phase::waiting;
    driven.state = state_;
    driven.during = driven.began ? state_.phase : Phase::safe;
    while (state_.phase != Phase::recorded && state_.phase != Phase::aborted) {
        const Phase before = state_.phase;
        const Step taken = go_on(Seen::Person::nothing);
        if (before == Phase::holding && state_.phase == Phase::released)
            driven.accepted = taken.event != Event::overrun;
        if (state_.phase == Phase::recorded) driven.level_reached = taken.event != Event::overrun;
        driven.during = before;
        driven.ended_by = taken.event;
        if (state_.phase != Phase::aborted || taken.event == Event::overrun) driven.unmet = taken.unmet;
        driven.state = state_;
    }
    driven.recorded = state_.phase == Phase::recorded;
    if (!driven.recorded) driven.may_be_live = look_until_dead(Seen::Person::nothing);
    return driven;
}

}  // namespace ebbtide::bench
