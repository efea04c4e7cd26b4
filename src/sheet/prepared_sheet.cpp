#include "sheet/prepared_sheet.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "lanes/exp_log.hpp"
#include "sheet/input_problems.hpp"

namespace ebbtide::sheet {

using Eigen::Index, Eigen::MatrixXd, Eigen::RowVector4d, Eigen::VectorXd;

namespace {

constexpr double spent = 60;       // e^-60 of it is nothing beside what it was
constexpr std::size_t many = 512;  // exponentials in one go

/// The same clamps in a time that runs so many times as slowly.
Clamps in_slower_time(Clamps clamps, double slower) {
    if (clamps.hold_s) *clamps.hold_s /= slower;
    clamps.rise_s /= slower;
    for (Fall& fall : clamps.fall) fall.time_constant_s /= slower;
    return clamps;
}

}  // namespace

/// What a phase makes of each mode: own e^(-rate t) + sum over its parts of forced e^(-part.rate t), from the
/// phase's start.
struct PreparedSheet::Answers {
    const Phase* phase = nullptr;
    VectorXd own;
    MatrixXd forced;  // [mode, part]
    /// A mode and a part whose rates are too near each other for that quotient.
    struct Close {
        Index mode = 0;
        double drive_V_s = 0, slow_per_s = 0, apart_per_s = 0;

        /// (e^-slow t - e^-fast t) / (fast - slow).
        [[nodiscard]] double at(double t) const {
            const double late = apart_per_s * t < 1e-9 ? t : -std::expm1(-apart_per_s * t) / apart_per_s;
            return drive_V_s * std::exp(-slow_per_s * t) * late;
        }
    };
    std::vector<Close> close;

    /// Amplitudes after a time, whose exponentials of the first modes are `alive`.
    [[nodiscard]] VectorXd amplitudes(double t, std::span<const double> alive) const {
        VectorXd out = VectorXd::Zero(own.size());
        for (std::size_t k = 0; k < alive.size(); ++k)
            out(static_cast<Index>(k)) = own(static_cast<Index>(k)) * alive[k];
        for (std::size_t p = 0; p < phase->parts.size(); ++p)
            out += std::exp(-phase->parts[p].rate_per_s * t) * forced.col(static_cast<Index>(p));
        for (const Close& one : close) out(one.mode) += one.at(t);
        return out;
    }
};

PreparedSheet::Answers PreparedSheet::answers_to(const Phase& phase, VectorXd start) const {
    const Index count = rate_per_s_.size();
    Answers out{&phase, std::move(start), MatrixXd(count, static_cast<Index>(phase.parts.size())), {}};
    for (std::size_t p = 0; p < phase.parts.size(); ++p) {
        const ExponentialPart& part = phase.parts[p];
        for (Index k = 0; k < count; ++k) {
            const double faster = rate_per_s_(k) - part.rate_per_s, drive = drive_(k) * part.amplitude_V;
            const bool close = std::abs(faster) < 1e-4 * std::max(rate_per_s_(k), part.rate_per_s);
            double& forced = out.forced(k, static_cast<Index>(p)) = close ? 0 : drive / faster;
            out.own(k) -= forced;
            if (close)
                out.close.push_back({k, drive, std::min(rate_per_s_(k), part.rate_per_s), std::abs(faster)});
        }
    }
    return out;
}

/// To the charging and to the release.
std::array<PreparedSheet::Answers, 2> PreparedSheet::answers_to(const std::array<Phase, 2>& phases) const {
    const Phase& charging = phases.front();
    const Index count = rate_per_s_.size();
    Answers first = answers_to(charging, VectorXd::Zero(count));
    if (std::isinf(charging.start_s)) {
        first.own.setZero();  // gone long ago
        VectorXd steady = first.forced.rowwise().sum();
        return {std::move(first), answers_to(phases.back(), std::move(steady))};
    }
    std::vector<double> alive(static_cast<std::size_t>(count));
    for (Index k = 0; k < count; ++k)
        alive[static_cast<std::size_t>(k)] = -rate_per_s_(k) * charging.length_s;
    lanes::exp_all(alive, alive);
    VectorXd at_release = first.amplitudes(charging.length_s, alive);
    return {std::move(first), answers_to(phases.back(), std::move(at_release))};
}

PreparedSheet::PreparedSheet(const CutSheet& sheet, const Material& material, const Clamps& clamps,
                             const Decomposition& found)
    : resistivity_(material.surface_resistivity_ohm_sq),
      left_contact_(clamps.left_contact_ohm_m),
      right_contact_(clamps.right_contact_ohm_m),
      induced_fraction_(sheet.induced_fraction),
      // As much comes in through the clamps: directly, and by driving modes.
      leaked_per_Vs_(material.leak_S_m2 * sheet.width_m().dot(sheet.from_clamps)) {
    const auto count = static_cast<Index>(found.modes.size());
    rate_per_s_.resize(count);
    drive_.resize(count);
    seen_.resize(count, 4);
    for (Index k = 0; k < count; ++k) {
        const Mode& mode = found.modes[static_cast<std::size_t>(k)];
        rate_per_s_(k) = mode.rate_per_s;
        drive_(k) = mode.drive;
        seen_.row(k) << mode.reading_V, mode.charge_C_m, mode.out_A_m / mode.rate_per_s,
            mode.leak_A_m / mode.rate_per_s;
        leaked_per_Vs_ += mode.leak_A_m * mode.drive / mode.rate_per_s;
    }
    if (found.potential.size() == 0) return;
    modes_ = found.modes;
    potential_ = found.potential;
    charge_C_m2_ = sheet.width_m().cwiseInverse().asDiagonal() * found.charge_C_m;
    from_clamps_ = sheet.from_clamps;
}

Result<PreparedSheet> PreparedSheet::of(const CutSheet& sheet, const Material& material, const Clamps& clamps,
                                        bool profiles) {
    if (auto problem = problem_of(material)) return *problem;
    if (auto problem = problem_of(clamps)) return *problem;
    if (!has_modes(sheet, material))
        return bad_input(
            "a sheet whose resistivity depends on the field, or that hangs and absorbs, has no modes",
            "follow it by steps");
    const auto found = modes_of(sheet, material, Conduction(sheet, material, clamps), profiles);
    if (!found)
        return bad_input("absorption or contacts are 1e9 times faster or slower than the sheet",
                         "follow it by steps");
    return PreparedSheet(sheet, material, clamps, *found);
}

std::optional<Error> PreparedSheet::problem_of_run(double surface_resistivity_ohm_sq, const Clamps& clamps,
                                                   std::span<const double> times_s) const {
    const double slower = surface_resistivity_ohm_sq / resistivity_;
    if (!(slower > 1e-60 && slower < 1e60))
        return bad_input(
            fmt::format("the surface resistivity must be above 0 ohm and within 1e60 of the {} "
                        "that was prepared; got {}",
                        resistivity_, surface_resistivity_ohm_sq));
    if (auto problem = problem_of(clamps)) return problem;
    const auto in_proportion = [&](double contact, double prepared) {
        return std::abs(contact - prepared * slower) <= 1e-9 * prepared * slower;
    };
    if (!in_proportion(clamps.left_contact_ohm_m, left_contact_) ||
        !in_proportion(clamps.right_contact_ohm_m, right_contact_))
        return bad_input(
            fmt::format("contacts of {} and {} ohm m were prepared for {} ohm; got {} and {} for {}",
                        left_contact_, right_contact_, resistivity_, clamps.left_contact_ohm_m,
                        clamps.right_contact_ohm_m, surface_resistivity_ohm_sq),
            "prepare the sheet for these");
    return problem_of(times_s, clamps);
}

/// Calls take(i, t, alive) for every time of the phase: t counts in the prepared sheet's time from the
/// phase's start, alive[k] = e^(-rate_k t) of the modes that are not spent.
template <class Take>
void PreparedSheet::at_times(std::span<const double> times_s, double slower, const Answers& answers,
                             Take take) const {
    // In a charging that began long ago all times are one.
    const double start = answers.phase->start_s;
    const auto elapsed = [&](std::size_t i) { return std::isinf(start) ? 0 : times_s[i] / slower - start; };
    auto modes = static_cast<std::size_t>(answers.own.isZero(0) ? 0 : answers.own.size());
    std::vector<double> e;
    std::vector<std::size_t> ends;
    for (std::size_t first = 0; first < times_s.size(); first += ends.size()) {
        e.clear();
        ends.clear();
        for (std::size_t i = first; i < times_s.size() && e.size() < many && ends.size() < many; ++i) {
            const double t = elapsed(i);
            while (modes > 0 && !(rate_per_s_(static_cast<Index>(modes) - 1) * t < spent)) --modes;
            const std::size_t begin = e.size();
            e.resize(begin + modes);
            for (std::size_t k = 0; k < modes; ++k) e[begin + k] = -rate_per_s_(static_cast<Index>(k)) * t;
            ends.push_back(e.size());
        }
        lanes::exp_all(e, e);
        std::size_t begin = 0;
        for (std::size_t n = 0; n < ends.size(); ++n) {
            take(first + n, elapsed(first + n), std::span<const double>(e).subspan(begin, ends[n] - begin));
            begin = ends[n];
        }
    }
}

Result<std::vector<double>> PreparedSheet::sensed_V(double surface_resistivity_ohm_sq, const Clamps& clamps,
                                                    std::span<const double> times_s) const {
    if (auto problem = problem_of_run(surface_resistivity_ohm_sq, clamps, times_s)) return *problem;
    const double slower = surface_resistivity_ohm_sq / resistivity_;
    const auto phases = phases_of(in_slower_time(clamps, slower));
    const std::array<Answers, 2> both = answers_to(phases);
    const auto released = static_cast<std::size_t>(std::ranges::lower_bound(times_s, 0.0) - times_s.begin());
    std::vector<double> out(times_s.size());
    for (const bool after : {false, true}) {
        const Answers& answers = both[after ? 1 : 0];
        const std::vector<ExponentialPart>& parts = answers.phase->parts;
        const VectorXd weight = answers.own.cwiseProduct(seen_.col(0));
        VectorXd part_V = answers.forced.transpose() * seen_.col(0);
        for (std::size_t p = 0; p < parts.size(); ++p)
            part_V(static_cast<Index>(p)) += induced_fraction_ * parts[p].amplitude_V;
        double* const to = out.data() + (after ? released : 0);
        at_times(after ? times_s.subspan(released) : times_s.first(released), slower, answers,
                 [&](std::size_t i, double t, std::span<const double> alive) {
                     double sum = 0;
                     for (std::size_t k = 0; k < alive.size(); ++k)
                         sum += weight(static_cast<Index>(k)) * alive[k];
                     for (std::size_t p = 0; p < parts.size(); ++p)
                         sum += part_V(static_cast<Index>(p)) * std::exp(-parts[p].rate_per_s * t);
                     for (const Answers::Close& one : answers.close) sum += seen_(one.mode, 0) * one.at(t);
                     to[i] = sum;
                 });
    }
    return out;
}

Result<Course> PreparedSheet::course(double surface_resistivity_ohm_sq, const Clamps& clamps,
                                     std::span<const double> times_s) const {
    if (auto problem = problem_of_run(surface_resistivity_ohm_sq, clamps, times_s)) return *problem;
    const double slower = surface_resistivity_ohm_sq / resistivity_;
    const auto phases = phases_of(in_slower_time(clamps, slower));
    const std::array<Answers, 2> both = answers_to(phases);
    const auto released = static_cast<std::size_t>(std::ranges::lower_bound(times_s, 0.0) - times_s.begin());
    const RowVector4d held = (both[1].own + both[1].forced.rowwise().sum()).transpose() * seen_;
    const bool steady = std::isinf(phases[0].start_s);
    const double hold_Vs = steady ? 0 : phases[0].integral_V_s(phases[0].length_s);

    Course out;
    for (const bool after : {false, true}) {
        const Answers& answers = both[after ? 1 : 0];
        const Phase& phase = *answers.phase;
        const Seen weight = answers.own.asDiagonal() * seen_;
        const Seen by_part = answers.forced.transpose() * seen_;
        const std::span<const double> times = after ? times_s.subspan(released) : times_s.first(released);
        at_times(times, slower, answers, [&](std::size_t i, double t, std::span<const double> alive) {
            RowVector4d left = RowVector4d::Zero();  // in the modes
            for (std::size_t k = 0; k < alive.size(); ++k)
                left += alive[k] * weight.row(static_cast<Index>(k));
            for (std::size_t p = 0; p < phase.parts.size(); ++p)
                left += std::exp(-phase.parts[p].rate_per_s * t) * by_part.row(static_cast<Index>(p));
            for (const Answers::Close& one : answers.close) left += one.at(t) * seen_.row(one.mode);
            const double clamp_V = phase.voltage_V(t);
            // From the release.
            const double clamp_Vs = !after && steady ? clamp_V * times[i] / slower
                                                     : phase.integral_V_s(t) - (after ? 0 : hold_Vs);
            out.clamp_V.push_back(clamp_V);
            out.sensed_V.push_back(left(0) + induced_fraction_ * clamp_V);
            out.charge_C_m.push_back(left(1));
            out.through_clamps_C_m.push_back(held(2) - left(2) - leaked_per_Vs_ * clamp_Vs);
            out.leaked_C_m.push_back(leaked_per_Vs_ * clamp_Vs + held(3) - left(3));
            if (modes_.empty()) return;
            const VectorXd now = answers.amplitudes(t, alive);
            VectorXd potential = VectorXd::Zero(potential_.cols()), charge = potential;
            for (std::size_t k = 0; k < modes_.size(); ++k) {
                potential(modes_[k].shape) += modes_[k].potential * now(static_cast<Index>(k));
                charge(modes_[k].shape) += modes_[k].charge_part * now(static_cast<Index>(k));
            }
            const VectorXd V = potential_ * potential + clamp_V * from_clamps_, q = charge_C_m2_ * charge;
            out.potential_V.emplace_back(V.begin(), V.end());
            out.charge_C_m2.emplace_back(q.begin(), q.end());
        });
    }
    return out;
}

}  // namespace ebbtide::sheet
