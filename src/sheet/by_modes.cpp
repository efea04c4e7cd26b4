#include "sheet/by_modes.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace ebbtide::sheet {
namespace {

using Eigen::Index, Eigen::MatrixXd, Eigen::VectorXd;
using std::numbers::pi;

/// A mode's amplitude m: dm/dt = -rate m + drive V_clamp. The rest is what an amplitude of 1 adds.
struct Mode {
    double rate_per_s = 0, drive = 0;
    double reading_V = 0, charge_C_m = 0;
    double out_A_m = 0, leak_A_m = 0;       // currents out of the sheet: through the clamps, to earth
    Index shape = 0;                        // column of the shapes
    double potential = 0, charge_part = 0;  // of that column: potential; charge by its own capacitance
};

struct Decomposition {
    std::vector<Mode> modes;
    MatrixXd potential, charge_C_m;  // of shapes over the strips; empty unless profiles are asked
};

/// A standing wave over the strips of a backed sheet, cos(theta (i + 1/2) - phase), of squares that sum to 1.
struct Wave {
    double theta = 0, phase = 0, height = 0;
    [[nodiscard]] double at(Index i) const {
        return height * std::cos(theta * (static_cast<double>(i) + 0.5) - phase);
    }
};

/// How far before a contact the wave has its top: the strip beyond the edge that would draw what the contact
/// draws has (1 - ratio) of the last strip's potential; `ratio` is of the contact's conductance to that
/// between strips, 2 for a perfect contact.
double phase_at(double ratio, double theta) {
    return std::atan2(ratio * std::cos(theta / 2), (2 - ratio) * std::sin(theta / 2));
}

/// The k-th wave: what it turns through from contact to contact, theta n, is its phases and k half turns.
/// Phases fall with theta, so that there is one root, between k and k + 1 half turns.
Wave wave(Index count, Index k, double left, double right) {
    const auto n = static_cast<double>(count), turns = static_cast<double>(k) * pi;
    double low = turns / n, high = (turns + pi) / n;
    Wave out;
    out.theta = high;
    if (left != 2 || right != 2) {
        double theta = (low + high) / 2;
        for (int i = 0; i < 60; ++i) {
            const double over = n * theta - phase_at(left, theta) - phase_at(right, theta) - turns;
            (over > 0 ? high : low) = theta;
            // d phase / d theta = -r (2 - r) / 2 / (r^2 cos^2 + (2 - r)^2 sin^2)
            const auto fall = [&](double r) {
                const double c = r * std::cos(theta / 2), s = (2 - r) * std::sin(theta / 2);
                return r * (2 - r) / (2 * (c * c + s * s));
            };
            double next = theta - over / (n + fall(left) + fall(right));
            if (!(next > low && next < high)) next = (low + high) / 2;
            const bool there = std::abs(next - theta) <= 1e-15 * theta;
            theta = next;
            if (there) break;
        }
        out.theta = theta;
    }
    out.phase = left == 2 ? pi / 2 : phase_at(left, out.theta);
    double squares = 0;
    if (std::sin(out.theta) > 1e-4) {
        squares = n / 2 + std::sin(n * out.theta) * std::cos(n * out.theta - 2 * out.phase) /
                              (2 * std::sin(out.theta));
    } else {
        out.height = 1;
        for (Index i = 0; i < count; ++i) squares += out.at(i) * out.at(i);
    }
    out.height = 1 / std::sqrt(squares);
    return out;
}

/// Each wave of the potential splits into one exponential for itself and one for every Debye term.
Decomposition backed(const CutSheet& sheet, const Material& material, const Conduction& conduction,
                     bool profiles) {
    const Index count = sheet.strips();
    const double width = sheet.edge_m[1], own = sheet.backing_F_m(0) / width;
    const VectorXd& G = conduction.conductance_S_m();
    const double between = G(1);
    // A perfect contact's 2, whatever the rounding.
    const auto ratio = [&](double contact) {
        return contact > between * (2 - 1e-12) ? 2 : contact / between;
    };
    const double left = ratio(G(0)), right = ratio(G(count));
    std::vector<Index> seen;
    for (Index i = 0; i < count; ++i)
        if (sheet.reading_V_per_C_m(i) != 0) seen.push_back(i);

    const auto terms = static_cast<Index>(material.absorption.size());
    MatrixXd rates(terms + 1, terms + 1);
    VectorXd part = VectorXd::Constant(terms + 1, 1.0);
    Eigen::SelfAdjointEigenSolver<MatrixXd> split(terms + 1);
    Decomposition out;
    // Odd waves are never driven between contacts alike.
    for (Index k = 0; k < count; k += left == right ? 2 : 1) {
        const Wave shape = wave(count, k, left, right);
        const double drawn = G(0) * shape.at(0) + G(count) * shape.at(count - 1);
        const double half = std::sin(shape.theta / 2), conducted = 4 * between * half * half / width;
        const double area = width * shape.height * std::sin(static_cast<double>(count) * shape.theta / 2) *
                            std::cos(static_cast<double>(count) * shape.theta / 2 - shape.phase) / half;
        double reading = 0;
        for (const Index i : seen) reading += sheet.reading_V_per_C_m(i) * sheet.backing_F_m(i) * shape.at(i);

        rates.setZero();
        rates(0, 0) = (conducted + material.leak_S_m2) / own;
        for (Index m = 0; m < terms; ++m) {
            const Absorption& term = material.absorption[static_cast<std::size_t>(m)];
            rates(0, 0) += term.capacitance_F_m2 / (own * term.relaxation_s);
            rates(m + 1, 0) = rates(0, m + 1) = -std::sqrt(term.capacitance_F_m2 / own) / term.relaxation_s;
            rates(m + 1, m + 1) = 1 / term.relaxation_s;
        }
        if (terms > 0) split.compute(rates);
        for (Index j = 0; j <= terms; ++j) {
            if (terms > 0) part = split.eigenvectors().col(j);
            Mode mode;
            mode.rate_per_s = terms > 0 ? split.eigenvalues()(j) : rates(0, 0);
            mode.potential = part(0) / std::sqrt(own * width);
            mode.charge_part = mode.potential;
            for (Index m = 0; m < terms; ++m)
                mode.charge_part +=
                    part(m + 1) / own *
                    std::sqrt(material.absorption[static_cast<std::size_t>(m)].capacitance_F_m2 / width);
            mode.drive = drawn * mode.potential;
            mode.reading_V = reading * mode.potential;
            mode.out_A_m = drawn * mode.potential;
            mode.leak_A_m = material.leak_S_m2 * area * mode.potential;
            mode.charge_C_m = own * area * mode.charge_part;
            mode.shape = profiles ? k : 0;
            out.modes.push_back(mode);
        }
        if (profiles) {
            if (out.potential.size() == 0) out.potential = MatrixXd::Zero(count, count);
            for (Index i = 0; i < count; ++i) out.potential(i, k) = shape.at(i);
        }
    }
    if (profiles) out.charge_C_m = sheet.backing_F_m(0) * out.potential;
    return out;
}

// C df/dt = -H (f + a V_clamp) + b V_clamp for the strips' own potentials f.
Result<Decomposition> hanging(const CutSheet& sheet, const Material& material, const Conduction& conduction,
                              bool profiles) {
    const Index count = sheet.strips();
    const VectorXd& G = conduction.conductance_S_m();
    const VectorXd leak = material.leak_S_m2 * sheet.width_m();
    MatrixXd H = MatrixXd::Zero(count, count);
    H.diagonal() = leak + G.head(count) + G.tail(count);
    for (Index i = 1; i < count; ++i) H(i, i - 1) = H(i - 1, i) = -G(i);
    // Scaled to figures near 1: an eigenvalue is a rate.
    const double scale_S = H.diagonal().mean(), scale_F = sheet.influence_F_m.diagonal().mean();
    const Eigen::GeneralizedSelfAdjointEigenSolver<MatrixXd> solved(H / scale_S,
                                                                    sheet.influence_F_m / scale_F);
    if (solved.info() != Eigen::Success || !(solved.eigenvalues()(0) > 0))
        return Error{Fault::internal, "the modes of the sheet were not found", "sheet", {}};
    const MatrixXd& X = solved.eigenvectors();
    const MatrixXd charge = sheet.influence_F_m * X;
    VectorXd push = -(H * sheet.from_clamps);
    push(0) += G(0);
    push(count - 1) += G(count);
    const VectorXd reading = charge.transpose() * sheet.reading_V_per_C_m;
    const VectorXd total = charge.colwise().sum();
    Decomposition out;
    for (Index k = 0; k < count; ++k) {
        Mode mode;
        mode.rate_per_s = solved.eigenvalues()(k) * scale_S / scale_F;
        mode.drive = X.col(k).dot(push) / scale_F;
        mode.reading_V = reading(k);
        mode.charge_C_m = total(k);
        mode.out_A_m = G(0) * X(0, k) + G(count) * X(count - 1, k);
        mode.leak_A_m = leak.dot(X.col(k));
        mode.shape = k;
        mode.potential = mode.charge_part = 1;
        out.modes.push_back(mode);
    }
    if (profiles) {
        out.potential = X;
        out.charge_C_m = charge;
    }
    return out;
}

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

double amplitude_at(const Mode& mode, double start, const Phase& phase, double t) {
    double out = mode.rate_per_s * t < 60 ? start * std::exp(-mode.rate_per_s * t) : 0;
    for (const ExponentialPart& part : phase.parts) out += mode.drive * answer(mode.rate_per_s, part, t);
    return out;
}

Sums sums_of(const std::vector<Mode>& modes, const VectorXd& amplitudes) {
    Sums out;
    for (std::size_t k = 0; k < modes.size(); ++k) out.add(modes[k], amplitudes(static_cast<Index>(k)));
    return out;
}

}  // namespace

bool has_modes(const CutSheet& sheet, const Material& material) {
    return material.field_coefficient == 0 && (!sheet.hangs() || material.absorption.empty());
}

Result<Course> by_modes(const CutSheet& sheet, const Material& material, const Conduction& conduction,
                        const std::array<Phase, 2>& phases, std::span<const double> times_s, bool profiles) {
    const auto found = sheet.hangs() ? hanging(sheet, material, conduction, profiles)
                                     : Result<Decomposition>(backed(sheet, material, conduction, profiles));
    if (!found) return found.error();
    const std::vector<Mode>& modes = found->modes;
    const auto count = static_cast<Index>(modes.size());
    // What a volt on the clamps does for a second: without any charge on the sheet, and by driving the modes.
    // A mode's integral is (drive * clamp_Vs - what it has gained) / rate.
    const VectorXd& G = conduction.conductance_S_m();
    const Index last = sheet.strips();
    double through_per_Vs = G(0) * (sheet.from_clamps(0) - 1) + G(last) * (sheet.from_clamps(last - 1) - 1);
    double leaked_per_Vs = material.leak_S_m2 * sheet.width_m().dot(sheet.from_clamps);
    for (const Mode& mode : modes) {
        through_per_Vs += mode.out_A_m * mode.drive / mode.rate_per_s;
        leaked_per_Vs += mode.leak_A_m * mode.drive / mode.rate_per_s;
    }

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
            for (Index k = 0; k < count; ++k) {
                const Mode& mode = modes[static_cast<std::size_t>(k)];
                now(k) = amplitude_at(mode, start(k), phase, t);
                if (now(k) != 0) left.add(mode, now(k));
            }
        }
        out.clamp_V.push_back(clamp_V);
        out.sensed_V.push_back(left.reading_V + sheet.induced_fraction * clamp_V);
        out.charge_C_m.push_back(left.charge_C_m);
        out.through_clamps_C_m.push_back(through_per_Vs * clamp_Vs + held.through_C_m - left.through_C_m);
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
