#include "bench/guarded_run.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

namespace ebbtide::bench {
namespace {

double sign_of(const RunAim& aim) {
    return aim.polarity == plan::Polarity::positive ? 1 : -1;
}

double mean_V(const std::vector<double>& recorded, const plan::VoltageScale& scale) {
    double sum = 0;
    for (const double value : recorded) sum += scale.volts(value);
    return sum / static_cast<double>(recorded.size());
}

/// Readings count only while the bench said before and after them that it stands as it must.
void add(Reading& reading, bool stands, double mean, std::size_t count, double from_s, double to_s) {
    if (!stands) {
        reading = {};
        reading.from_s = to_s;
        return;
    }
    if (reading.count == 0 && reading.from_s == 0) {
        // The state was read at the end of this stretch only.
        reading.from_s = to_s;
        return;
    }
    if (reading.count == 0 && from_s < reading.from_s - 1e-12) return;
    reading.sum += mean * static_cast<double>(count);
    reading.count += count;
    reading.to_s = to_s;
}

bool waited(const RunState& state, const plan::DriveLimits& limits) {
    return !state.aim.neutralised_s || state.now_s - *state.aim.neutralised_s >= limits.wait_s;
}

void take_in(RunState& state, const plan::DriveLimits& limits, const Scales& scales,
             const Observation& observed) {
    const double from_s = observed.from_s;
    const std::size_t count = observed.specimen.size();
    const auto longest = static_cast<double>(std::max(count, observed.electrode.size()));
    const double to_s = from_s + longest * observed.sample_interval_s;
    // A recorder that stopped must not stop the clock by which it is found silent.
    state.now_s = longest > 0 ? to_s : state.now_s + limits.look_s;
    if (!observed.electrode.empty()) {
        state.electrode_heard_s = to_s;
        state.electrode_V = mean_V(observed.electrode, scales.electrode);
        const double electrode_V = state.electrode_V * sign_of(state.aim);
        const bool at_voltage =
            std::abs(electrode_V - state.aim.voltage_V) <= limits.settle_tolerance * state.aim.voltage_V;
        if (!at_voltage)
            state.at_voltage_from_s.reset();
        else if (!state.at_voltage_from_s)
            state.at_voltage_from_s = from_s;
        if (state.phase == Phase::holding) state.held_electrode_V = electrode_V;
    }
    if (count == 0) return;
    state.heard_s = to_s;
    state.specimen_V = mean_V(observed.specimen, scales.specimen);
    // What neutralising left has to settle before it is read.
    if (state.phase == Phase::waiting)
        add(state.residual,
            observed.shutter_closed == State::no && observed.earthed == State::yes && waited(state, limits),
            state.specimen_V, count, from_s, to_s);
    if (state.phase == Phase::zeroing)
        add(state.zero, observed.shutter_closed == State::yes && observed.earthed == State::yes,
            state.specimen_V, count, from_s, to_s);

    const double specimen_V = (state.specimen_V - state.zero.mean().value_or(0)) * sign_of(state.aim);
    if (state.phase == Phase::holding) state.held_V = specimen_V;
    if (state.phase == Phase::released) {
        const double end_V = std::max(state.aim.end_fraction * state.held_V, state.aim.end_V);
        if (specimen_V > end_V)
            state.below_from_s.reset();
        else if (!state.below_from_s)
            state.below_from_s = to_s;
    }
}

Seen seen_in(const RunState& state, const plan::DriveLimits& limits, const Look& look) {
    Seen seen;
    seen.person = look.person;
    seen.link = look.observed != nullptr;
    if (!seen.link) return seen;
    const Observation& observed = *look.observed;
    const RunAim& aim = state.aim;
    seen.interlock_closed = observed.interlock_closed;
    seen.output_on = observed.output_on;
    seen.earthed = observed.earthed;
    seen.shutter_closed = observed.shutter_closed;
    const auto heard = [&](double last_s) {
        return last_s > 0 && state.now_s - last_s <= limits.silent_after_s;
    };
    seen.sensor_heard = heard(state.heard_s) && heard(state.electrode_heard_s);
    seen.electrode_near_zero =
        heard(state.electrode_heard_s) && std::abs(state.electrode_V) <= limits.near_zero_V;

    const double in_phase_s = state.now_s - state.phase_from_s;
    const double electrode_V = state.electrode_V * sign_of(aim);
    if (state.phase == Phase::charging)
        seen.electrode_off_course = electrode_V < -limits.near_zero_V || electrode_V > 1.2 * aim.voltage_V;
    if (state.phase == Phase::holding) seen.electrode_off_course = !state.at_voltage_from_s;
    seen.arrived = state.at_voltage_from_s && state.now_s - *state.at_voltage_from_s >= limits.settle_s;

    seen.waited = waited(state, limits);
    seen.residual_read = state.residual.length_s() >= limits.residual_s - 1e-9;
    seen.zero_read = state.zero.length_s() >= limits.zero_s - 1e-9;
    const auto within = [](const std::optional<double>& value, const std::optional<double>& limit) {
        return value && (!limit || std::abs(*value) <= *limit);
    };
    seen.zero_within_limit = within(state.zero.mean(), aim.zero_limit_V);
    seen.residual_low = within(state.residual_V(), aim.residual_limit_V);

    const double charged_s = state.charge_s ? state.now_s - *state.charge_s : 0;
    seen.charged = state.charge_s && charged_s >= aim.hold_s - 0.5 * limits.look_s;
    seen.charge_accepted =
        (!aim.minimum_initial_V || state.held_V >= *aim.minimum_initial_V) &&
        (!aim.minimum_accepted_fraction || state.held_V >= *aim.minimum_accepted_fraction * electrode_V);

    const double fallen_s = state.released_s ? state.now_s - *state.released_s : 0;
    seen.coming_down = state.phase == Phase::released && fallen_s < limits.earth_within_s;
    // Half as long again and a little more: the law of a fall shows behind its last level.
    seen.level_reached = aim.watch_s ? fallen_s >= *aim.watch_s
                                     : state.below_from_s && state.released_s &&
                                           fallen_s >= 1.5 * (*state.below_from_s - *state.released_s) + 0.5;
    switch (state.phase) {
        case Phase::waiting:
            seen.time_over = in_phase_s >= limits.wait_s + limits.residual_s + limits.prepare_within_s;
            break;
        case Phase::zeroing:
            seen.time_over = in_phase_s >= limits.zero_s + limits.prepare_within_s;
            break;
        case Phase::charging:
            seen.time_over = in_phase_s >= std::min(limits.longest_rise_s, aim.longest_charge_s);
            break;
        case Phase::holding:
            seen.time_over = charged_s >= aim.longest_charge_s - 0.5 * limits.look_s;
            break;
        case Phase::released:
            seen.time_over = fallen_s >= std::max(limits.longest_fall_s, aim.watch_s.value_or(0));
            break;
        case Phase::safe:
        case Phase::recorded:
        case Phase::aborted:
            break;
    }
    return seen;
}

void enter(RunState& state, Phase phase, Event because) {
    state.phase = phase;
    state.phase_from_s = state.now_s;
    state.ended_by = because;
    if (phase == Phase::waiting) {
        state.residual = state.zero = {};
        state.charge_s = state.released_s = state.below_from_s = state.at_voltage_from_s = {};
        state.held_V = state.held_electrode_V = 0;
        if (state.aim.neutralised_s)
            state.aim.neutralised_s = std::min(*state.aim.neutralised_s, state.now_s);
    }
    if (phase == Phase::charging) {
        state.charge_s = state.now_s;
        state.at_voltage_from_s.reset();
    }
    if (phase == Phase::released) state.released_s = state.now_s;
}

Command command_of(Action action, const RunAim& aim) {
    return {action, action == Action::set_voltage ? sign_of(aim) * aim.voltage_V : 0};
}

}  // namespace

std::optional<double> set_length_s(const RunState& state, const plan::DriveLimits& limits) {
    const auto since = [&](const std::optional<double>& then_s) {
        return then_s ? state.now_s - *then_s : 0;
    };
    switch (state.phase) {
        case Phase::waiting: {
            const double wait_s = state.aim.neutralised_s ? limits.wait_s : 0;
            return std::max(0.0, wait_s - since(state.aim.neutralised_s)) + limits.residual_s;
        }
        case Phase::zeroing:
            return limits.zero_s;
        case Phase::holding:
            return std::max(0.0, state.aim.hold_s - since(state.charge_s));
        case Phase::released:
            return state.aim.watch_s;
        case Phase::safe:
        case Phase::charging:
        case Phase::recorded:
        case Phase::aborted:
            break;
    }
    return {};
}

std::vector<Command> first_commands() {
    return {{Action::output_off, 0}, {Action::earth_clamps, 0}, {Action::close_shutter, 0}};
}

Step step(RunState state, const plan::DriveLimits& limits, const Scales& scales, const Look& look,
          const TransitionTable& table) {
    if (look.observed) take_in(state, limits, scales, *look.observed);
    Decision decision = decide(table, state.phase, seen_in(state, limits, look));
    Step out;
    out.event = decision.event;
    out.unmet = std::move(decision.unmet);
    if (decision.row) {
        if (decision.event == Event::asked && look.aim) state.aim = *look.aim;
        for (const Action action : decision.row->commands)
            out.commands.push_back(command_of(action, state.aim));
        out.entered = decision.row->to != state.phase;
        if (out.entered) enter(state, decision.row->to, decision.event);
    }
    out.state = std::move(state);
    return out;
}

}  // namespace ebbtide::bench
