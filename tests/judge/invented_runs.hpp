#pragma once
// Runs with decay times as stated, and the small order, method and specification around them.

#include <cmath>
#include <string>
#include <vector>

#include "judge/judgement.hpp"

namespace ebbtide::judge::testing_support {

inline plan::Level level_of(const char* text) {
    return *plan::parse_level(text);
}

inline plan::Requirement requirement(plan::Statistic statistic, plan::Comparison comparison, double limit_s,
                                     const char* level = "0.1") {
    plan::Requirement asked;
    asked.id = statistic == plan::Statistic::mean ? "mean" : "each";
    asked.clause = "house rule";
    asked.level = level_of(level);
    asked.statistic = statistic;
    asked.comparison = comparison;
    asked.limit_s = limit_s;
    return asked;
}

inline plan::Requirement each_run(plan::Comparison comparison, double limit_s) {
    return requirement(plan::Statistic::each_run, comparison, limit_s);
}

inline plan::Requirement mean_of(std::vector<plan::GroupKey> keys, double limit_s) {
    plan::Requirement asked = requirement(plan::Statistic::mean, plan::Comparison::less_or_equal, limit_s);
    asked.group_by = std::move(keys);
    return asked;
}

inline plan::Specification specification(std::vector<std::vector<plan::Requirement>> demands) {
    plan::Specification document;
    for (auto& any_of : demands)
        document.demands.push_back({"d" + std::to_string(document.demands.size()), std::move(any_of)});
    return document;
}

/// Two warp and two filling specimens, as received and washed.
inline plan::Order order() {
    plan::Order order;
    order.id = "o";
    order.tested_from = {2026, 9, 15};
    order.tested_to = {2026, 9, 18};
    order.specimens = {{"W1", "C", "warp", "", "as received"},
                       {"W2", "C", "warp", "", "as received"},
                       {"W3", "C", "warp", "", "washed"},
                       {"F1", "C", "filling", "", "as received"},
                       {"F2", "C", "filling", "", "washed"}};
    plan::TestConditions dry;
    dry.id = "dry";
    dry.relative_humidity_percent = 12;
    dry.temperature_C = 23;
    dry.conditioned_from = parse_instant("2026-09-14T08:00:00Z").value();
    dry.conditioned_to = parse_instant("2026-09-15T08:00:00Z").value();
    order.conditions = {dry};
    return order;
}

inline plan::RunKey key(const char* specimen, int replicate = 1,
                        plan::Polarity polarity = plan::Polarity::positive) {
    return {specimen, "front", "dry", polarity, replicate};
}

/// A run that took its charge at 5000 V, was charged for 20 s and read as the level figure says.
inline JudgedRun run_with(const plan::RunKey& at, decay::LevelFigure figure) {
    JudgedRun run;
    run.key = at;
    run.run_id = "id of " + at.label();
    figure.level = level_of("0.1");
    decay::Figures figures;
    figures.polarity = at.polarity;
    figures.initial_voltage_V = 4900;
    figures.electrode_V = at.polarity == plan::Polarity::positive ? 5000 : -5000;
    figures.accepted_fraction = 0.98;
    figures.charging_s = 20;
    figures.residual_V = 3;
    figures.levels = {std::move(figure)};
    run.figures = std::move(figures);
    return run;
}

/// Noise is the run's own, the lag belongs to the bench: only the first averages down.
inline JudgedRun measured(const plan::RunKey& at, double decay_s, double u_run_s = 0, double u_bench_s = 0) {
    decay::LevelFigure figure;
    figure.status = decay::LevelStatus::measured;
    figure.decay_s = decay_s;
    figure.u_decay_s = std::hypot(u_run_s, u_bench_s);
    figure.budget = {{"noise at the crossing", u_run_s, "s", 1, {}, decay::Scope::run, ""},
                     {"lag of the sensor", u_bench_s, "s", 1, {}, decay::Scope::bench, ""}};
    return run_with(at, figure);
}

/// A time beyond the record, as a method that allows extrapolation brings it about.
inline JudgedRun extrapolated(const plan::RunKey& at, double decay_s, double u_s) {
    decay::LevelFigure figure;
    figure.status = decay::LevelStatus::extrapolated;
    figure.at_least_s = 0.5 * decay_s;
    figure.decay_s = decay_s;
    figure.u_decay_s = u_s;
    figure.budget = {{"extrapolation by the laws", u_s, "s", 1, {}, decay::Scope::run, ""}};
    return run_with(at, figure);
}

inline JudgedRun not_reached(const plan::RunKey& at, double at_least_s) {
    decay::LevelFigure figure;
    figure.status = decay::LevelStatus::not_reached;
    figure.at_least_s = at_least_s;
    figure.reason = "the record ends at 30 % of V0";
    return run_with(at, figure);
}

inline JudgedRun below_resolution(const plan::RunKey& at, double at_most_s) {
    decay::LevelFigure figure;
    figure.status = decay::LevelStatus::below_resolution;
    figure.at_most_s = at_most_s;
    figure.reason = "faster than the bench resolves";
    return run_with(at, figure);
}

inline JudgedRun without_figure(const plan::RunKey& at, decay::LevelStatus status) {
    decay::LevelFigure figure;
    figure.status = status;
    figure.reason = "the noise hides the crossing";
    return run_with(at, figure);
}

inline JudgedRun flagged(JudgedRun run, plan::FlagCode code, const char* message = "seen at the bench") {
    run.flags.emplace_back(code, message);
    return run;
}

/// A place of the plan that no recording fills.
inline JudgedRun not_recorded(const plan::RunKey& at) {
    JudgedRun run;
    run.key = at;
    run.flags.emplace_back(plan::FlagCode::run_missing, "W1.csv holds 1 runs, the plan names 2.");
    return run;
}

inline bool mentions(const std::vector<std::string>& lines, const std::string& part) {
    for (const std::string& line : lines)
        if (line.find(part) != std::string::npos) return true;
    return false;
}

}  // namespace ebbtide::judge::testing_support
