#pragma once
// Runs with a known truth: zero, hold, release and a fall of any shape, with white or band-limited noise.

#include <cmath>
#include <cstdint>
#include <functional>
#include <optional>
#include <random>
#include <vector>

#include "decay/figures.hpp"
#include "trace/cutter.hpp"

namespace ebbtide::testing_support {

struct RunPlan {
    double zero_s = 0.5;
    double hold_s = 0.5;
    double fall_s = 5;
    std::size_t samples = 6000;
    double initial_V = 1;
    double offset_V = 0;  ///< sensor zero
    double noise_V = 0;
    double correlation_s = 0;  ///< of the noise; 0 is white
    double skew_s = 0;         ///< of the sampling grid against the release
    std::function<double(double)> fall = [](double t) {
        return std::exp(-t);
    };  ///< fraction of initial_V after the release
};

inline trace::SampleStore simulate(const RunPlan& plan, std::uint64_t seed) {
    std::mt19937_64 random(seed);
    std::normal_distribution<double> normal;
    const double total_s = plan.zero_s + plan.hold_s + plan.fall_s;
    const double step_s = total_s / static_cast<double>(plan.samples);
    const double keep = plan.correlation_s > 0 ? std::exp(-step_s / plan.correlation_s) : 0;
    double noise = normal(random);
    trace::SampleStore out;
    for (std::size_t i = 0; i < plan.samples; ++i) {
        const double t_s = (static_cast<double>(i) + plan.skew_s) * step_s;
        const double since_s = t_s - plan.zero_s - plan.hold_s;
        const double clean = t_s < plan.zero_s ? 0 : plan.initial_V * (since_s <= 0 ? 1 : plan.fall(since_s));
        out.time_s.push_back(t_s);
        out.value.push_back(plan.offset_V + clean + plan.noise_V * noise);
        noise = keep * noise + std::sqrt(1 - keep * keep) * normal(random);
    }
    return out;
}

/// Cuts the samples and hands the runs over as `decay` wants them.
inline std::vector<decay::RunTrace> cut(const trace::SampleStore& store) {
    trace::RunCutter cutter;
    std::vector<trace::RunSpan> spans;
    cutter.add(store.value, spans);
    cutter.finish(spans);
    std::vector<decay::RunTrace> runs;
    for (const trace::RunSpan& span : spans) {
        decay::RunTrace run;
        run.specimen = store.view().slice(span.first, span.end);
        run.starts_charged = span.starts_charged;
        run.sign = span.sign;
        run.base = span.base;
        run.height = span.height;
        run.charge_start_s = store.time_s[span.charge_start];
        run.last_high_s = store.time_s[span.last_high];
        run.first_low_s =
            span.first_low < span.end ? store.time_s[span.first_low] : store.time_s[span.end - 1];
        runs.push_back(run);
    }
    return runs;
}

}  // namespace ebbtide::testing_support
