#include "sheet/clamped_modes.hpp"

#include <algorithm>
#include <cmath>

#include "sheet/wave.hpp"

namespace ebbtide::sheet {
namespace {

using Eigen::Index, Eigen::MatrixXd, Eigen::VectorXd;

/// Eigenvalues are right to 1e-16 of the largest one.
template <class Solver>
bool digits_left(const Solver& solved) {
    if (solved.info() != Eigen::Success) return false;
    const auto& values = solved.eigenvalues();
    return values(0) > 1e-9 * values(values.size() - 1);
}

/// Each wave of the potential splits into one exponential for itself and one for every Debye term.
std::optional<Decomposition> backed(const CutSheet& sheet, const Material& material,
                                    const Conduction& conduction, bool profiles) {
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
        const Wave shape(count, k, left, right);
        const double drawn = G(0) * shape.first() + G(count) * shape.last();
        const double conducted = between * shape.drawn() / width, area = width * shape.sum();
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
        if (terms > 0) {
            split.compute(rates);
            if (!digits_left(split)) return std::nullopt;
        }
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
std::optional<Decomposition> hanging(const CutSheet& sheet, const Material& material,
                                     const Conduction& conduction, bool profiles) {
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
    if (!digits_left(solved)) return std::nullopt;
    const MatrixXd& X = solved.eigenvectors();
    const MatrixXd charge = sheet.influence_F_m * X;
    VectorXd push = -(H * sheet.from_clamps);
    push(0) += G(0);
    push(count - 1) += G(count);
    const VectorXd reading = charge.transpose() * sheet.reading_V_per_C_m;
    const VectorXd total = charge.colwise().sum();
    Decomposition out;
    for (Index k = 0; k < count; ++k) {
        const double drive = X.col(k).dot(push);
        // Odd ones between contacts alike.
        if (std::abs(drive) < 1e-13 * push.norm() * X.col(k).norm()) continue;
        Mode mode;
        mode.rate_per_s = solved.eigenvalues()(k) * scale_S / scale_F;
        mode.drive = drive / scale_F;
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

}  // namespace

bool has_modes(const CutSheet& sheet, const Material& material) {
    return material.field_coefficient == 0 && (!sheet.hangs() || material.absorption.empty());
}

std::optional<Decomposition> modes_of(const CutSheet& sheet, const Material& material,
                                      const Conduction& conduction, bool profiles) {
    if (sheet.hangs()) return hanging(sheet, material, conduction, profiles);
    auto out = backed(sheet, material, conduction, profiles);
    if (out) std::ranges::stable_sort(out->modes, {}, &Mode::rate_per_s);
    return out;
}

}  // namespace ebbtide::sheet
