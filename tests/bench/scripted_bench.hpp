#pragma once
// A bench of the tests: the rehearsal's, with a script that disturbs what it shows and refuses what it is
// told, and a list of what was sent and when.

#include <algorithm>
#include <functional>
#include <optional>
#include <random>
#include <utility>
#include <vector>

#include "bench/rehearsal_bench.hpp"

namespace ebbtide::testing_support {

struct Sent {
    double bench_s = 0;
    bench::Command command;
};

class ScriptedBench : public bench::RehearsalBench {
  public:
    explicit ScriptedBench(const bench::Rehearsal& rehearsal = {}, const bench::Scales& scales = {})
        : RehearsalBench(rehearsal, scales) {}

    /// Changes an observation before it is handed on; false: the link is lost.
    std::function<bool(double now_s, bench::Observation&)> disturb;
    /// Refuses a command, with an error.
    std::function<std::optional<Error>(double now_s, const bench::Command&)> refuse;
    std::vector<Sent> sent;
    /// Of both channels, 1 V: without it every run is the same run.
    std::optional<std::mt19937_64> noise;

    Result<Done> send(const bench::Command& command) override {
        if (refuse)
            if (const auto error = refuse(now_s(), command)) return *error;
        sent.push_back({now_s(), command});
        return RehearsalBench::send(command);
    }
    Result<bench::Observation> observe(double duration_s) override {
        auto seen = RehearsalBench::observe(duration_s);
        std::normal_distribution<double> normal;
        if (noise)
            for (auto* channel : {&seen->specimen, &seen->electrode})
                for (double& recorded : *channel) recorded += normal(*noise);
        if (disturb && !disturb(now_s(), *seen))
            return Error{Fault::unreadable, "does not answer", "scripted bench", ""};
        return seen;
    }
    [[nodiscard]] std::vector<double> times_of(bench::Action action) const {
        std::vector<double> times;
        for (const Sent& one : sent)
            if (one.command.action == action) times.push_back(one.bench_s);
        return times;
    }
};

/// Limits as a small bench would have them, quick enough for tests.
inline plan::DriveLimits quick_limits() {
    plan::DriveLimits limits;
    limits.near_zero_V = 50;
    limits.settle_tolerance = 0.02;
    limits.settle_s = 0.1;
    limits.longest_rise_s = 2;
    limits.longest_charge_s = 10;
    limits.earth_within_s = 0.5;
    limits.longest_fall_s = 20;
    limits.rest_s = 1;
    limits.unattended_replicates = 3;
    limits.residual_s = 0.2;
    limits.zero_s = 0.5;
    limits.prepare_within_s = 2;
    limits.silent_after_s = 0.1;
    return limits;
}

inline bench::RunAim quick_aim(plan::Polarity polarity = plan::Polarity::positive) {
    bench::RunAim aim;
    aim.polarity = polarity;
    aim.voltage_V = 5000;
    aim.hold_s = aim.longest_charge_s = 2;
    aim.minimum_initial_V = 4000;
    aim.zero_limit_V = 20;
    aim.residual_limit_V = 100;
    return aim;
}

}  // namespace ebbtide::testing_support
