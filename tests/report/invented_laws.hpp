#pragma once
// Laws and Monte Carlo results for the invented order: exponentials that fit, and one run that nothing fits.

#include "report/invented_order.hpp"

namespace ebbtide::testing_support {

/// Residuals of `wave` times their noise in a slow wave; noise alone for 0.
inline decay::LawFigures invented_law(double time_constant_s, double initial_V, double wave,
                                      std::uint64_t seed) {
    decay::LawFigures law;
    law.from_s = 0.012;
    law.to_s = 2;
    law.samples = 990;
    law.effective_samples = 400;
    law.lag_s = 0.004;
    decay::LawCandidate exponential;
    exponential.kind = decay::LawKind::exponential;
    exponential.outcome = fit::Outcome::converged;
    exponential.parameters = {{"amplitude_V", initial_V, 2.5, fit::Standing::free},
                              {"time_constant_s", time_constant_s, 0.0012, fit::Standing::free}};
    exponential.rss = 143'000;
    exponential.aicc = 2000.5;
    exponential.weight = 0.9;
    decay::LawCandidate two = exponential;
    two.kind = decay::LawKind::two_exponentials;
    two.parameters = {{"amplitude_1_V", 0.4 * initial_V, {}, fit::Standing::not_determined},
                      {"time_constant_1_s", 0.9 * time_constant_s, {}, fit::Standing::not_determined},
                      {"amplitude_2_V", 0.6 * initial_V, {}, fit::Standing::not_determined},
                      {"time_constant_2_s", 1.1 * time_constant_s, {}, fit::Standing::not_determined}};
    two.merged = "time_constant_1_s and time_constant_2_s";
    two.aicc.reset();
    two.weight = 0;
    decay::LawCandidate power = exponential;
    power.kind = decay::LawKind::power;
    power.aicc = 2004.9;
    power.weight = 0.1;
    law.candidates = {exponential, two, power};
    law.chosen = 0;
    law.adequate = wave == 0;
    if (wave != 0) law.doubt = "Residuals stay on one side for 0.3 s.";
    Noise noise(seed);
    for (int i = 0; i < 48; ++i) {
        decay::ResidualPoint point;
        point.time_s = 0.012 * std::pow(2 / 0.012, (i + 0.5) / 48);
        point.u_V = 6 / std::sqrt(1 + i / 4.0);
        point.residual_V = point.u_V * (noise.normal() + wave * std::sin(i / 5.0));
        point.law_V = initial_V * std::exp(-point.time_s / time_constant_s);
        law.residuals.push_back(point);
    }
    return law;
}

/// Laws for every run of the invented order: the third has none that describes it, the last is extrapolated.
inline report::ReportInput report_with_laws() {
    report::ReportInput input = invented_report();
    std::uint64_t seed = 100;
    for (judge::JudgedRun& run : input.record.judgement.runs) {
        decay::Figures& figures = *run.figures;
        const bool slow = &run == &input.record.judgement.runs.back();
        const bool odd = run.run_id == "run-3";
        const double time_constant_s = slow ? 3.1 : *figures.levels[1].decay_s;
        figures.law = invented_law(time_constant_s, *figures.initial_voltage_V, odd ? 4 : 0, seed++);
        figures.law->sides = decay::PulseSides{time_constant_s * 1.01, time_constant_s, 0.01, 0.02, true};
        if (slow) figures.law->extrapolated = {{level_of("0.1"), 7.14, 6.6, 7.9}};
        for (decay::LevelFigure& level : figures.levels) {
            if (!level.decay_s) continue;
            decay::MonteCarloTime drawn;
            drawn.mean_s = *level.decay_s;
            drawn.u_s = *level.u_decay_s;
            drawn.low_s = *level.decay_s - 1.96 * drawn.u_s;
            drawn.high_s = *level.decay_s + 1.96 * drawn.u_s;
            drawn.trials = 100'000;
            drawn.stable = true;
            level.monte_carlo = drawn;
        }
    }
    return input;
}

}  // namespace ebbtide::testing_support
