#include "sheet/by_modes.hpp"

#include <algorithm>
#include <cmath>

#include "sheet/clamped_modes.hpp"

namespace ebbtide::sheet {
namespace {

using Eigen::Index, Eigen::VectorXd;

/// Answer at t of a mode at rest to a part of the clamps' voltage: (e^-rt - e^-lt) / (l - r).
double answer(double rate, const ExponentialPart& part, double t) {
    const double slow = std::min(rate, part.rate_per_s), apart = std::abs(rate - part.rate_per_s);
    const double late = apart * t < 1e-9 ? t : -std::expm1(-apart * t) / apart;
    return part.amplitude_V * std::exp(-slow * t) * late;
}

/// Everything that is read off a sheet at a time, as sums over its modes.
struct Sums {
    double reading_V = 0, charge_C_m = 0;
    double through_C_m = 0, leaked_C_m = 0;  // of the charge that modes still hold: what will go out so

    void add(const Mode& mode, double amplitude) {
        reading_V += mode.reading_V * amplitude;
        charge_C_m += mode.charge_C_m * amplitude;
        through_C_m += mode.out_A_m / mode.rate_per_s * amplitude;
        leaked_C_m += mode.leak_A_m / mode.rate_per_s * amplitude;
    }
};

constexpr double spent = 60;  // e^-60 of it is nothing beside what it was

double amplitude_at(const Mode& mode, double start, const Phase& phase, double t) {
    double out = mode.rate_per_s * t < spent ? start * std::exp(-mode.rate_per_s * t) : 0;
    for (const ExponentialPart& part : phase.parts) out += mode.drive * answer(mode.rate_per_s, part, t);
    return out;
}

Sums sums_of(const std::vector<Mode>& modes, const VectorXd& amplitudes) {
    Sums out;
    for (std::size_t k = 0; k < modes.size(); ++k) out.add(modes[k], amplitudes(static_cast<Index>(k)));
    return out;
}

}  // namespace

std::optional<Course> by_modes(const CutSheet& sheet, const Material& material, const Conduction& conduction,
                               const std::array<Phase, 2>& phases, std::span<const double> times_s,
                               bool profiles) {
    const auto found = modes_of(sheet, material, conduction, profiles);
    if (!found) return std::nullopt;
    const std::vector<Mode>& modes = found->modes;
    const auto count = static_cast<Index>(modes.size());
    // What a volt on the clamps leaks in a second, once its modes have settled: directly, and by driving
    // them. As much comes in through the clamps. A mode's integral is (drive * clamp_Vs - what it has gained)
    // / rate.
    double leaked_per_Vs = material.leak_S_m2 * sheet.width_m().dot(sheet.from_clamps);
    for (const Mode& mode : modes) leaked_per_Vs += mode.leak_A_m * mode.drive / mode.rate_per_s;

    const Phase &charging = phases.front(), &released = phases.back();
    const bool steady = std::isinf(charging.start_s);
    const VectorXd empty = VectorXd::Zero(count);
    VectorXd at_release(count), now(count);
    for (Index k = 0; k < count; ++k) {
        const Mode& mode = modes[static_cast<std::size_t>(k)];
        at_release(k) = steady ? mode.drive * charging.voltage_V(0) / mode.rate_per_s
                               : amplitude_at(mode, 0, charging, charging.length_s);
    }
    const Sums held = sums_of(modes, at_release);
    const double hold_Vs = steady ? 0 : charging.integral_V_s(charging.length_s);

    Course out;
    for (const double time : times_s) {
        const bool before = time < 0;
        const Phase& phase = before ? charging : released;
        const double t = before && steady ? 0 : time - phase.start_s;
        const double clamp_V = phase.voltage_V(t);
        // From the release.
        const double clamp_Vs =
            before && steady ? clamp_V * time : phase.integral_V_s(t) - (before ? hold_Vs : 0);
        Sums left;
        if (before && steady) {
            now = at_release;
            left = held;
        } else {
            const VectorXd& start = before ? empty : at_release;
            now.setZero();
            for (Index k = 0; k < count; ++k) {
                const Mode& mode = modes[static_cast<std::size_t>(k)];
                if (phase.parts.empty() && !(mode.rate_per_s * t < spent)) break;
                now(k) = amplitude_at(mode, start(k), phase, t);
                left.add(mode, now(k));
            }
        }
        out.clamp_V.push_back(clamp_V);
        out.sensed_V.push_back(left.reading_V + sheet.induced_fraction * clamp_V);
        out.charge_C_m.push_back(left.charge_C_m);
        out.through_clamps_C_m.push_back(held.through_C_m - left.through_C_m - leaked_per_Vs * clamp_Vs);
        out.leaked_C_m.push_back(leaked_per_Vs * clamp_Vs + held.leaked_C_m - left.leaked_C_m);
        if (!profiles) continue;
        VectorXd potential = VectorXd::Zero(found->potential.cols()), charge = potential;
        for (Index k = 0; k < count; ++k) {
            const Mode& mode = modes[static_cast<std::size_t>(k)];
            potential(mode.shape) += mode.potential * now(k);
            charge(mode.shape) += mode.charge_part * now(k);
        }
        const VectorXd V = found->potential * potential + clamp_V * sheet.from_clamps;
        const VectorXd q = (found->charge_C_m * charge).cwiseQuotient(sheet.width_m());
        out.potential_V.emplace_back(V.begin(), V.end());
        out.charge_C_m2.emplace_back(q.begin(), q.end());
    }
    return out;
}

}  // namespace ebbtide::sheet
