#include "sheet/modes.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <numbers>

#include "sheet/elements.hpp"

namespace ebbtide::sheet {
namespace {

// Inside, lengths count in gaps, eps0 and R_s are 1: nothing overflows, and one fixture is every scale of it.
using Eigen::Index, Eigen::MatrixXd, Eigen::VectorXd;
using std::numbers::pi;

constexpr std::size_t most_modes = 12;  // beyond, they last less than a twentieth of the slowest one

/// Current out of each strip of the sheet for 1 V on it: through half of both neighbours' distance, and from
/// the last one into the clamp at its edge. The middle plane lets nothing through.
MatrixXd conductance(const std::vector<Strip>& sheet) {
    const auto count = static_cast<Index>(sheet.size());
    MatrixXd out = MatrixXd::Zero(count, count);
    for (std::size_t i = 0; i + 1 < sheet.size(); ++i) {
        const double between = 1 / (sheet[i + 1].centre() - sheet[i].centre());
        const auto k = static_cast<Index>(i);
        out(k, k) += between;
        out(k + 1, k + 1) += between;
        out(k, k + 1) -= between;
        out(k + 1, k) -= between;
    }
    out(count - 1, count - 1) += 2 / sheet.back().width();
    return out;
}

/// The strips' charges and potentials, with the clamps earthed.
struct Sheet {
    MatrixXd potential;    ///< mean potential of strip i for a charge of 1 on strip j
    VectorXd reading;      ///< of the sensor, over that of the hold, for a charge of 1 on strip j
    VectorXd hold_charge;  ///< when everything was at 1 V for long
};

std::optional<Sheet> sheet_in(const BetweenPlanes& planes, const std::vector<Strip>& sheet,
                              const std::vector<Strip>& clamp, double aperture) {
    std::vector<Strip> all(sheet);
    all.insert(all.end(), clamp.begin(), clamp.end());
    const auto sheets = static_cast<Index>(sheet.size()), clamps = static_cast<Index>(clamp.size());
    const Index count = sheets + clamps;
    MatrixXd P(count, count);
    VectorXd field(count);
    for (Index j = 0; j < count; ++j) {
        const Strip& source = all[static_cast<std::size_t>(j)];
        field(j) = 2 * planes.field_at_sensor(source, aperture);
        for (Index i = 0; i <= j; ++i) {
            const Strip& at = all[static_cast<std::size_t>(i)];
            P(i, j) = P(j, i) = planes.mean(at, source) + planes.mean(at, source.mirrored());
        }
    }
    const Eigen::LLT<MatrixXd> everything(P);
    const Eigen::LLT<MatrixXd> clamps_alone(P.bottomRightCorner(clamps, clamps));
    if (everything.info() != Eigen::Success || clamps_alone.info() != Eigen::Success) return std::nullopt;
    const VectorXd charge = everything.solve(VectorXd::Ones(count));
    const double hold = field.dot(charge);
    // Earthed clamps answer a charge on the sheet with what takes their own potential back to nothing.
    const MatrixXd answer = clamps_alone.solve(P.bottomLeftCorner(clamps, sheets));
    return Sheet{P.topLeftCorner(sheets, sheets) - P.topRightCorner(sheets, clamps) * answer,
                 (field.head(sheets) - answer.transpose() * field.tail(clamps)) / hold, charge.head(sheets)};
}

/// The first modes. What all later ones carry goes to the last of these: the start stays right, and what is
/// lost is gone soon.
Modes first_of(const VectorXd& rate, const VectorXd& weight) {
    Modes out;
    const auto kept = std::min(rate.size(), static_cast<Index>(most_modes));
    const double total = weight.sum();
    for (Index k = 0; k < kept; ++k) {
        out.rate.push_back(rate(k) / rate(0));
        out.weight.push_back(weight(k) / total);
    }
    out.weight.back() += 1 - weight.head(kept).sum() / total;
    return out;
}

}  // namespace

// dq/dt = -K P q for the strips' charges q. With P = L L^T and p = L^T q, dp/dt = -(L^T K L) p is symmetric.
std::optional<Modes> hanging_modes(const CrossSection& fixture) {
    const auto scaled = in_gaps(fixture);
    if (!scaled) return std::nullopt;
    const double h = scaled->to_sensor, b = scaled->behind;
    const std::size_t strips = scaled->strips;
    const std::vector<Strip> sheet = sheet_strips(strips);
    const auto charged =
        sheet_in(BetweenPlanes(h, b), sheet, clamp_strips(strips / 2, scaled->clamp), scaled->aperture);
    if (!charged) return std::nullopt;

    const Eigen::LLT<MatrixXd> factor(charged->potential);
    if (factor.info() != Eigen::Success) return std::nullopt;
    const MatrixXd L = factor.matrixL();
    const Eigen::SelfAdjointEigenSolver<MatrixXd> modes(L.transpose() * conductance(sheet) * L);
    const MatrixXd& shape = modes.eigenvectors();
    const VectorXd seen = L.triangularView<Eigen::Lower>().solve(charged->reading);
    const VectorXd weight = (shape.transpose() * seen).array() *
                            (shape.transpose() * (L.transpose() * charged->hold_charge)).array();
    const double slowest = modes.eigenvalues()(0), after_release = weight.sum();
    if (!(slowest > 0) || !(after_release > 0) || !weight.allFinite()) return std::nullopt;
    Modes out = first_of(modes.eigenvalues(), weight);
    out.induced_fraction = 1 - after_release;
    out.capacitance_F_m2 = pi * pi / slowest * vacuum_F_m / fixture.gap_m;
    return out;
}

}  // namespace ebbtide::sheet
