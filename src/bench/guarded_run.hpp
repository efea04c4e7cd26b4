#pragma once
// One guarded run, step by step: what the bench showed turns into what a look says (transition_table.hpp),
// the table decides, commands come out. Pure: time is the bench's clock, nothing is sent from here.

#include <optional>
#include <string>
#include <vector>

#include "bench/bench.hpp"
#include "bench/transition_table.hpp"
#include "plan/bench.hpp"
#include "plan/bench_drive.hpp"
#include "plan/order.hpp"

namespace ebbtide::bench {

/// What one run is to do; from the method, or from the bench check. Voltages are magnitudes.
struct RunAim {
    plan::Polarity polarity = plan::Polarity::positive;
    double voltage_V = 0;
    double hold_s = 0;  ///< from output on to the release
    double longest_charge_s =
        0;  ///< the release waits so long for the charge to be accepted; at least hold_s
    std::optional<double> minimum_initial_V = {}, minimum_accepted_fraction = {};
    std::optional<double> zero_limit_V = {}, residual_limit_V = {};
    double end_fraction = 0.1;  ///< the record goes on until the reading has passed this fraction of what
                                ///< was held, or
    double end_V = 0;           ///< this voltage, whichever is higher, and half as long again; or
    std::optional<double> watch_s = {};        ///< for so long after the release, whatever it reads
    std::optional<double> neutralised_s = {};  ///< bench clock at which a person had neutralised the specimen
};

/// The mean of readings over a stretch in one state of the bench.
struct Reading {
    double sum = 0, from_s = 0, to_s = 0;
    std::size_t count = 0;
    [[nodiscard]] double length_s() const { return count > 0 ? to_s - from_s : 0; }
    [[nodiscard]] std::optional<double> mean() const {
        return count > 0 ? std::optional(sum / static_cast<double>(count)) : std::nullopt;
    }
};

/// Where a run stands. Times by the bench's clock.
struct RunState {
    Phase phase = Phase::aborted;  ///< nothing is known of the bench until it was looked at
    double now_s = 0, phase_from_s = 0;
    double heard_s = 0, electrode_heard_s = 0;  ///< last sample of the specimen's and the electrode's channel
    RunAim aim = {};
    Event ended_by = Event::look;            ///< of the last change of phase
    double electrode_V = 0, specimen_V = 0;  ///< means over the last look that held samples, signs kept
    Reading residual = {}, zero = {};        ///< volts at the specimen
    std::optional<double> at_voltage_from_s = {}, charge_s = {}, released_s = {}, below_from_s = {};
    double held_V = 0;  ///< what the specimen read at the end of the hold, on the electrode's side, less zero
    double held_electrode_V = 0;  ///< and the electrode, on its side

    [[nodiscard]] std::optional<double> residual_V() const {
        const auto raw = residual.mean(), at_zero = zero.mean();
        return raw && at_zero ? std::optional(*raw - *at_zero) : std::nullopt;
    }
};

/// Recorded numbers to volts.
struct Scales {
    plan::VoltageScale specimen, electrode;
};

/// What was seen since the last step. No observation: the link is lost.
struct Look {
    const Observation* observed = nullptr;
    Seen::Person person = Seen::Person::nothing;
    std::optional<RunAim> aim = {};  ///< with Person::asks
};

struct Step {
    RunState state;
    Event event = Event::look;
    bool entered = false;  ///< another phase began
    std::vector<Command> commands;
    std::vector<Guard> unmet;  ///< what is waited for
};

/// How long a phase that was just entered lasts where nothing holds it up; nothing where that is not set
/// beforehand, as of a rise or of a fall to a level.
[[nodiscard]] std::optional<double> set_length_s(const RunState& state, const plan::DriveLimits& limits);

/// What is sent before the first look: the output may be on from before.
[[nodiscard]] std::vector<Command> first_commands();

[[nodiscard]] Step step(RunState state, const plan::DriveLimits& limits, const Scales& scales,
                        const Look& look, const TransitionTable& table = transition_table());

}  // namespace ebbtide::bench
