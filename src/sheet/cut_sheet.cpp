#include "sheet/cut_sheet.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "sheet/elements.hpp"
#include "sheet/input_problems.hpp"
#include "sheet/sensor_view.hpp"

namespace ebbtide::sheet {
namespace {

using Eigen::Index, Eigen::MatrixXd, Eigen::VectorXd;

Error bad(std::string what, std::string remedy = {}) {
    return {Fault::bad_input, std::move(what), "sheet", std::move(remedy)};
}

Result<CutSheet> cut(const Backing& fixture, std::size_t strips) {
    if (!(fixture.gap_m > 0) || !std::isfinite(fixture.gap_m))
        return bad(fmt::format("the gap must be above 0 m; got {}", fixture.gap_m));
    if (!(fixture.capacitance_F_m2 > 0) || !std::isfinite(fixture.capacitance_F_m2))
        return bad(fmt::format("the capacitance must be above 0 F/m2; got {}", fixture.capacitance_F_m2));
    if (!(fixture.view_m >= 0 && fixture.view_m <= fixture.gap_m))
        return bad(fmt::format("the sensor's view must lie in 0 to the gap; got {} m", fixture.view_m));
    if (fixture.face)
        if (auto problem = problem_of(*fixture.face, fixture.gap_m)) return *problem;
    if (!(fixture.induced_fraction >= 0 && fixture.induced_fraction < 1))
        return bad(
            fmt::format("the induced fraction must lie in 0 to below 1; got {}", fixture.induced_fraction));
    if (strips == 0) strips = 200;
    CutSheet out;
    const auto count = static_cast<Index>(strips);
    out.edge_m.resize(strips + 1);
    for (std::size_t i = 0; i <= strips; ++i)
        out.edge_m[i] = fixture.gap_m * (static_cast<double>(i) / static_cast<double>(strips));
    const double each_F_m = fixture.capacitance_F_m2 * fixture.gap_m / static_cast<double>(strips);
    out.backing_F_m = VectorXd::Constant(count, each_F_m);
    out.from_clamps = VectorXd::Zero(count);
    out.induced_fraction = fixture.induced_fraction;
    const VectorXd view =
        fixture.face ? view_from(out.edge_m, *fixture.face) : view_over(out.edge_m, fixture.view_m);
    out.reading_V_per_C_m = (1 - fixture.induced_fraction) / each_F_m * view;
    return out;
}

/// Strips of the right half, then those of the whole, from the left.
std::vector<Strip> both_halves(const std::vector<Strip>& right) {
    std::vector<Strip> out;
    for (std::size_t i = right.size(); i-- > 0;) out.push_back(right[i].mirrored());
    out.insert(out.end(), right.begin(), right.end());
    return out;
}

Result<CutSheet> cut(const CrossSection& fixture, std::size_t strips) {
    const auto scaled = in_gaps(fixture);
    if (!scaled)
        return bad(
            "lengths of the fixture must be above zero, its planes no nearer than a 150th of the gap, the "
            "sensor's opening no wider than the gap",
            "describe a sheet so close to a plane as a backed one");
    const std::size_t half = strips == 0 ? scaled->strips : strips / 2;
    std::vector<Strip> all = both_halves(sheet_strips(half));
    const auto sheet = static_cast<Index>(all.size());
    const std::vector<Strip> clamp =
        both_halves(clamp_strips(std::max<std::size_t>(half / 2, 4), scaled->clamp));
    all.insert(all.end(), clamp.begin(), clamp.end());

    const BetweenPlanes planes(scaled->to_sensor, scaled->behind);
    const auto count = static_cast<Index>(all.size());
    MatrixXd potential(count, count);
    VectorXd field(count);
    for (Index j = 0; j < count; ++j) {
        const Strip& source = all[static_cast<std::size_t>(j)];
        field(j) = planes.field_at_sensor(source, scaled->aperture);
        for (Index i = 0; i <= j; ++i)
            potential(i, j) = potential(j, i) = planes.mean(all[static_cast<std::size_t>(i)], source);
    }
    const Eigen::LLT<MatrixXd> factor(potential);
    if (factor.info() != Eigen::Success)
        return Error{Fault::internal, "the influences of the strips have no inverse", "sheet", {}};
    // Charges for potentials, everything held: the sheet's part of it is what earthed clamps leave.
    const MatrixXd charges = factor.solve(MatrixXd::Identity(count, count));
    const VectorXd reading = charges * field;  // symmetric
    const double hold = reading.sum();
    const MatrixXd own = charges.topLeftCorner(sheet, sheet);
    const Eigen::LLT<MatrixXd> own_factor(own);
    if (own_factor.info() != Eigen::Success || !(hold > 0))
        return Error{Fault::internal, "the influences of the sheet have no inverse", "sheet", {}};

    CutSheet out;
    out.edge_m.push_back(0);
    for (Index i = 0; i < sheet; ++i)
        out.edge_m.push_back(fixture.gap_m * (all[static_cast<std::size_t>(i)].to + 0.5));
    out.influence_F_m = vacuum_F_m * (own + own.transpose()) / 2;
    // Without charge of its own, a strip is where the charges that the clamps draw from it would cancel.
    const VectorXd drawn = charges.topRightCorner(sheet, count - sheet).rowwise().sum();
    out.from_clamps = -own_factor.solve(drawn);
    // Volts on the strips read `reading`; a charge is so many volts.
    out.reading_V_per_C_m = own_factor.solve(reading.head(sheet)) / (hold * vacuum_F_m);
    out.induced_fraction =
        (reading.tail(count - sheet).sum() + reading.head(sheet).dot(out.from_clamps)) / hold;
    return out;
}

}  // namespace

VectorXd CutSheet::width_m() const {
    VectorXd out(strips());
    for (Index i = 0; i < strips(); ++i)
        out(i) = edge_m[static_cast<std::size_t>(i) + 1] - edge_m[static_cast<std::size_t>(i)];
    return out;
}

VectorXd CutSheet::charge_of(const VectorXd& own_V) const {
    if (hangs()) return influence_F_m * own_V;
    return backing_F_m.cwiseProduct(own_V);
}

Result<CutSheet> cut_sheet(const Fixture& fixture, std::size_t strips) {
    const std::size_t most = std::holds_alternative<Backing>(fixture) ? 2000 : 600;
    if (strips != 0 && (strips < 8 || strips > most || strips % 2 != 0))
        return bad(fmt::format("strips must be an even number from 8 to {}; got {}", most, strips));
    if (const auto* backing = std::get_if<Backing>(&fixture)) return cut(*backing, strips);
    return cut(std::get<CrossSection>(fixture), strips);
}

std::optional<CutSheet> left_half(const CutSheet& sheet) {
    const Index half = sheet.strips() / 2;
    if (sheet.mirrored || 2 * half != sheet.strips()) return std::nullopt;
    const auto alike = [](const auto& all) {
        return (all - all.reverse()).cwiseAbs().maxCoeff() <= 1e-9 * all.cwiseAbs().maxCoeff();
    };
    if (!alike(sheet.width_m()) || !alike(sheet.from_clamps) || !alike(sheet.reading_V_per_C_m))
        return std::nullopt;
    CutSheet out;
    out.mirrored = true;
    out.edge_m.assign(sheet.edge_m.begin(), sheet.edge_m.begin() + half + 1);
    out.from_clamps = sheet.from_clamps.head(half);
    out.reading_V_per_C_m = sheet.reading_V_per_C_m.head(half) + sheet.reading_V_per_C_m.tail(half).reverse();
    out.induced_fraction = sheet.induced_fraction;
    if (sheet.hangs()) {
        if (!alike(sheet.influence_F_m)) return std::nullopt;
        out.influence_F_m = sheet.influence_F_m.topLeftCorner(half, half) +
                            sheet.influence_F_m.topRightCorner(half, half).rowwise().reverse();
    } else {
        if (!alike(sheet.backing_F_m)) return std::nullopt;
        out.backing_F_m = sheet.backing_F_m.head(half);
    }
    return out;
}

}  // namespace ebbtide::sheet
