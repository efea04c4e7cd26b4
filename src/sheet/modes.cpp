#include "sheet/modes.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <numbers>

namespace ebbtide::sheet {
namespace {

// Inside, lengths count in gaps, eps0 and R_s are 1: nothing overflows, and one fixture is every scale of it.
using Eigen::Index, Eigen::MatrixXd, Eigen::VectorXd;
using std::numbers::pi;

constexpr double vacuum_F_m = 8.8541878128e-12;  // CODATA 2018
constexpr std::size_t most_modes = 12;           // beyond, they last less than a twentieth of the slowest one
constexpr double shortest = 1.0 / 150;  // gaps: with a nearer plane there would be more strips than patience

/// A strip of the right half at the height of the sheet, evenly charged. Its mirror image in the middle plane
/// carries the same: the sheet is even, and so is all that the sensor sees of it.
struct Strip {
    double from = 0, to = 0;
    [[nodiscard]] double width() const { return to - from; }
    [[nodiscard]] double centre() const { return (from + to) / 2; }
    [[nodiscard]] Strip mirrored() const { return {-to, -from}; }
    /// Two points whose mean is that of any cubic over the strip (Gauss).
    [[nodiscard]] double gauss(double side) const { return centre() + side * width() / std::sqrt(12.0); }
};

/// What a line charge does between two earthed planes. Both functions are the sums over its images in the
/// planes, in closed form: the strip between the planes mapped on a half plane (any text on conformal maps).
class BetweenPlanes {
  public:
    BetweenPlanes(double to_sensor, double behind)
        : height_(to_sensor + behind),
          nearest_(std::min(to_sensor, behind)),
          sine_(std::sin(pi * nearest_ / height_)),
          cosine_((behind < to_sensor ? 1 : -1) * std::cos(pi * nearest_ / height_)) {}

    /// Mean potential of strip `a` when `b` carries a charge of 1. The singular part, a logarithm, by its
    /// double integral; the rest is smooth over a strip narrower than the planes are apart.
    [[nodiscard]] double mean(const Strip& a, const Strip& b) const {
        const double logarithm = second_integral(a.to - b.from) - second_integral(a.to - b.to) -
                                 second_integral(a.from - b.from) + second_integral(a.from - b.to);
        double rest = 0;
        for (const double s : {-1.0, 1.0})
            for (const double t : {-1.0, 1.0}) rest += without_logarithm(a.gauss(s) - b.gauss(t)) / 4;
        return rest - logarithm / (2 * pi * a.width() * b.width());
    }

    /// Field at the sensor's face opposite the middle when `b` carries a charge of 1.
    [[nodiscard]] double field_at_sensor(const Strip& b) const {
        double out = 0;
        for (const double t : {-1.0, 1.0}) {
            const double far = std::cosh(pi * b.gauss(t) / height_);
            out += sine_ / ((far + cosine_) * 4 * height_);
        }
        return out;
    }

  private:
    /// Second integral of ln|d|.
    static double second_integral(double d) {
        return d == 0 ? 0 : d * d * (std::log(std::abs(d)) / 2 - 0.75);
    }
    /// Potential at the distance d along the sheet, ln(1 + sin^2(pi h/H) / sinh^2(pi d/2H)) / 4 pi, plus
    /// ln|d| / 2 pi.
    [[nodiscard]] double without_logarithm(double d) const {
        const double away = std::abs(d);
        if (away < 1e-9 * nearest_) return std::log(2 * height_ * sine_ / pi) / (2 * pi);
        const double ratio = sine_ / std::sinh(pi * away / (2 * height_));
        return (std::log1p(ratio * ratio) + 2 * std::log(away)) / (4 * pi);
    }

    double height_, nearest_, sine_, cosine_;
};

/// Strips from the middle to the clamp, narrower toward it.
std::vector<Strip> sheet_strips(std::size_t count) {
    std::vector<Strip> out(count);
    const auto edge = [&](std::size_t i) {
        const double left = 1 - static_cast<double>(i) / static_cast<double>(count);
        return (1 - left * left) / 2;
    };
    for (std::size_t i = 0; i < count; ++i) out[i] = {edge(i), edge(i + 1)};
    return out;
}

/// Strips of the clamp, narrower toward both its edges, where charge crowds.
std::vector<Strip> clamp_strips(std::size_t count, double length) {
    std::vector<Strip> out(count);
    const auto edge = [&](std::size_t i) {
        return 0.5 + length * (1 - std::cos(pi * static_cast<double>(i) / static_cast<double>(count))) / 2;
    };
    for (std::size_t i = 0; i < count; ++i) out[i] = {edge(i), edge(i + 1)};
    return out;
}

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
                              const std::vector<Strip>& clamp) {
    std::vector<Strip> all(sheet);
    all.insert(all.end(), clamp.begin(), clamp.end());
    const auto sheets = static_cast<Index>(sheet.size()), clamps = static_cast<Index>(clamp.size());
    const Index count = sheets + clamps;
    MatrixXd P(count, count);
    VectorXd field(count);
    for (Index j = 0; j < count; ++j) {
        const Strip& source = all[static_cast<std::size_t>(j)];
        field(j) = 2 * planes.field_at_sensor(source);
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
    for (const double length :
         {fixture.gap_m, fixture.clamp_m, fixture.sensor_distance_m, fixture.enclosure_behind_m})
        if (!(length > 0) || !std::isfinite(length)) return std::nullopt;
    const double h = fixture.sensor_distance_m / fixture.gap_m,
                 b = fixture.enclosure_behind_m / fixture.gap_m;
    const double nearest = std::min(h, b);
    if (!(nearest > shortest) || !(fixture.clamp_m / fixture.gap_m > shortest / 10)) return std::nullopt;
    // A strip must be narrower than the nearest plane is far.
    const auto strips = static_cast<std::size_t>(std::max(1 / nearest, 48.0));
    // Farther out a clamp sees nothing of the sheet: the planes hide it, or the sheet is small from there.
    const double clamp = std::min({fixture.clamp_m / fixture.gap_m, 8 * (h + b), 20.0});
    const std::vector<Strip> sheet = sheet_strips(strips);
    const auto charged = sheet_in(BetweenPlanes(h, b), sheet, clamp_strips(strips / 2, clamp));
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
