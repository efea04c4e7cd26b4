#pragma once
// A run that the step of a field electrode starts: the specimen's voltage jumps to a part of the step and
// falls by itself, while the electrode stays up.

#include <cmath>
#include <cstdint>
#include <functional>
#include <random>

#include "trace/samples.hpp"

namespace ebbtide::testing_support {

struct FieldStepPlan {
    double lead_s = 0.5;
    double record_s = 6;   ///< after the step
    double step_s = 1e-3;  ///< between samples
    double skew = 0.5;     ///< where between two samples the field steps, 0 to 1
    double field_V = 1200;
    double peak_V = 800;  ///< of the specimen's voltage, at the step
    double noise_V = 0;
    double rise_s = 0;        ///< time constant of the specimen's own rise; 0: at once
    double back_after_s = 0;  ///< the electrode is brought back to zero; 0: it stays up
    std::function<double(double)> fall = [](double t) { return std::exp(-t); };  ///< of peak_V, from 1
};

struct FieldStepRecord {
    trace::SampleStore specimen, electrode;
    double stepped_s = 0;
};

inline FieldStepRecord simulate(const FieldStepPlan& plan, std::uint64_t seed) {
    std::mt19937_64 random(seed);
    std::normal_distribution<double> normal;
    FieldStepRecord out;
    out.stepped_s = (std::floor(plan.lead_s / plan.step_s) + plan.skew) * plan.step_s;
    const auto response = [&](double since_s) {
        if (since_s <= 0) return 0.0;
        const double risen = plan.rise_s > 0 ? 1 - std::exp(-since_s / plan.rise_s) : 1;
        return plan.peak_V * risen * plan.fall(since_s);
    };
    for (std::size_t i = 0; static_cast<double>(i) * plan.step_s < out.stepped_s + plan.record_s; ++i) {
        const double t_s = static_cast<double>(i) * plan.step_s, since_s = t_s - out.stepped_s;
        const double back_s = plan.back_after_s > 0 ? since_s - plan.back_after_s : -1;
        out.specimen.time_s.push_back(t_s);
        out.specimen.value.push_back(response(since_s) - response(back_s) + plan.noise_V * normal(random));
        out.electrode.time_s.push_back(t_s);
        out.electrode.value.push_back(since_s > 0 && back_s < 0 ? plan.field_V : 0);
    }
    return out;
}

}  // namespace ebbtide::testing_support
