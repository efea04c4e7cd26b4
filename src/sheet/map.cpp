#include "sheet/map.hpp"

#include <fmt/core.h>

#include <Eigen/Sparse>
#include <array>
#include <cmath>
#include <vector>

#include "sheet/input_problems.hpp"
#include "sheet/sensor_view.hpp"
#include "sheet/stepped_sheet.hpp"
#include "sheet/walk.hpp"

namespace ebbtide::sheet {
namespace {

using Eigen::Index, Eigen::VectorXd;
using Sparse = Eigen::SparseMatrix<double>;

/// Everything for a metre of width.
class CellBalance : public Balance {
  public:
    CellBalance(const SheetMap& map, const Clamps& clamps)
        : cells_(map.surface_resistivity_ohm_sq.size()), induced_fraction_(map.induced_fraction) {
        const Eigen::ArrayXXd& R = map.surface_resistivity_ohm_sq;
        const Index along = R.rows(), across = R.cols();
        const double dx = map.gap_m / static_cast<double>(along),
                     dy = map.width_m / static_cast<double>(across), area_m = dx * dy / map.width_m;
        own_F_m_ = map.capacitance_F_m2 * area_m;
        leak_S_m_ = map.leak_S_m2 * area_m;
        area_m_ = area_m;
        to_clamps_S_m_ = VectorXd::Zero(cells_);
        std::vector<Eigen::Triplet<double>> entries;
        const auto between = [&](Index a, Index b, double G) {
            entries.insert(entries.end(), {{static_cast<int>(a), static_cast<int>(a), G},
                                           {static_cast<int>(b), static_cast<int>(b), G},
                                           {static_cast<int>(a), static_cast<int>(b), -G},
                                           {static_cast<int>(b), static_cast<int>(a), -G}});
        };
        for (Index j = 0; j < across; ++j)
            for (Index i = 0; i < along; ++i) {
                const Index at = j * along + i;
                const double ahead = dx * map.width_m / dy, aside = dy * map.width_m / dx;  // ohm m for 1 ohm
                if (i + 1 < along) between(at, at + 1, 2 / (ahead * (R(i, j) + R(i + 1, j))));
                if (j + 1 < across) between(at, at + along, 2 / (aside * (R(i, j) + R(i, j + 1))));
                const auto to_clamp = [&](double half, double contact_ohm_m) {
                    to_clamps_S_m_(at) += 1 / (half * R(i, j) + contact_ohm_m * map.width_m / dy);
                };
                if (i == 0) to_clamp(ahead / 2, clamps.left_contact_ohm_m);
                if (i + 1 == along) to_clamp(ahead / 2, clamps.right_contact_ohm_m);
                if (map.framed && j == 0) to_clamp(aside / 2, 0);
                if (map.framed && j + 1 == across) to_clamp(aside / 2, 0);
            }
        for (Index at = 0; at < cells_; ++at)
            entries.emplace_back(static_cast<int>(at), static_cast<int>(at), to_clamps_S_m_(at) + leak_S_m_);
        drawn_S_m_.resize(cells_, cells_);
        drawn_S_m_.setFromTriplets(entries.begin(), entries.end());
        solver_.analyzePattern(drawn_S_m_);
        identity_.resize(cells_, cells_);
        identity_.setIdentity();

        const auto edges = [](double length, Index count) {
            std::vector<double> out;
            for (Index i = 0; i <= count; ++i)
                out.push_back(length * (static_cast<double>(i) / static_cast<double>(count)));
            return out;
        };
        const std::vector<double> along_m = edges(map.gap_m, along), across_m = edges(map.width_m, across);
        const Eigen::MatrixXd view =
            map.face ? view_from(along_m, across_m, *map.face)
                     : Eigen::MatrixXd(view_over(along_m, map.view_m) *
                                       view_over(across_m, map.view_across_m).transpose());
        reading_ = (1 - map.induced_fraction) * view.reshaped();
    }

    [[nodiscard]] Shown shown() const { return {reading_, induced_fraction_}; }

    [[nodiscard]] State empty() const override { return State::empty(1, cells_, 0); }

    void rates(const State& at, const Each& clamp_V, State& out) override {
        out.absorbed_V.resize(cells_, 0);
        out.through_C_m = Each::Constant(1, to_clamps_S_m_.dot(at.own_V) - clamp_V(0) * to_clamps_S_m_.sum());
        out.leaked_C_m = Each::Constant(1, leak_S_m_ * at.own_V.sum());
        out.own_V = clamp_V(0) * to_clamps_S_m_;
        out.own_V.noalias() -= drawn_S_m_ * at.own_V;
    }

    void linearise(const State& at, const Each& clamp_V, State& out) override { rates(at, clamp_V, out); }

    void rates_by_clamp(const Each& slope_V_s, State& out) const override {
        out.absorbed_V.resize(cells_, 0);
        out.through_C_m = -slope_V_s * to_clamps_S_m_.sum();
        out.leaked_C_m = Each::Zero(1);
        out.own_V = slope_V_s(0) * to_clamps_S_m_;
    }

    [[nodiscard]] double fastest_per_s() const override {
        return drawn_S_m_.diagonal().maxCoeff() / own_F_m_;
    }

    [[nodiscard]] bool factor(double z) override {
        if (z == z_) return true;
        const Sparse system = drawn_S_m_ + (z * own_F_m_) * identity_;
        solver_.factorize(system);
        const bool sound = solver_.info() == Eigen::Success && solver_.vectorD().minCoeff() > 0;
        z_ = sound ? z : 0;
        return sound;
    }

    void solve(State& r) const override {
        r.own_V = solver_.solve(r.own_V).eval();
        r.through_C_m = (r.through_C_m + to_clamps_S_m_.dot(r.own_V)) / z_;
        r.leaked_C_m = (r.leaked_C_m + leak_S_m_ * r.own_V.sum()) / z_;
    }

    void charges(const State& potentials, State& out) const override {
        out = potentials;
        out.own_V *= own_F_m_;
    }

    [[nodiscard]] State steady(const Each& clamp_V) const override {
        State out = empty();
        const Eigen::SimplicialLDLT<Sparse> solved(drawn_S_m_);
        out.own_V = solved.solve(clamp_V(0) * to_clamps_S_m_);
        return out;
    }

    void note(const State& at, const Each& clamp_V, bool profiles, std::span<Course> out) const override {
        Course& course = out.front();
        course.clamp_V.push_back(clamp_V(0));
        course.sensed_V.push_back(reading_.dot(at.own_V) + induced_fraction_ * clamp_V(0));
        course.charge_C_m.push_back(own_F_m_ * at.own_V.sum());
        course.through_clamps_C_m.push_back(at.through_C_m(0));
        course.leaked_C_m.push_back(at.leaked_C_m(0));
        if (!profiles) return;
        const VectorXd q = at.own_V * (own_F_m_ / area_m_);
        course.potential_V.emplace_back(at.own_V.begin(), at.own_V.end());
        course.charge_C_m2.emplace_back(q.begin(), q.end());
    }

  private:
    Index cells_;
    double induced_fraction_, own_F_m_ = 0, leak_S_m_ = 0, area_m_ = 0;  // of a cell
    VectorXd to_clamps_S_m_, reading_;
    Sparse drawn_S_m_;  ///< current out of each cell for the potentials of all, clamps earthed
    Sparse identity_;
    Eigen::SimplicialLDLT<Sparse> solver_;
    double z_ = 0;  // that was factored
};

bool above(double value) {
    return value > 0 && std::isfinite(value);
}

std::optional<Error> problem_of(const SheetMap& map) {
    const Eigen::ArrayXXd& R = map.surface_resistivity_ohm_sq;
    if (R.rows() < 4 || R.cols() < 1 || R.size() > 250'000)
        return bad_input(
            fmt::format("a map needs at least 4 cells along the gap and one along the clamps, and at "
                        "most 250000; got {} by {}",
                        R.rows(), R.cols()));
    for (Index j = 0; j < R.cols(); ++j)
        for (Index i = 0; i < R.rows(); ++i)
            if (!above(R(i, j)))
                return bad_input(fmt::format(
                    "surface resistivities must be above 0 ohm; got {} in cell {}, {}", R(i, j), i, j));
    const std::array<std::pair<const char*, double>, 3> lengths{
        {{"gap", map.gap_m}, {"width", map.width_m}, {"capacitance", map.capacitance_F_m2}}};
    for (const auto& named : lengths)
        if (!above(named.second))
            return bad_input(fmt::format("the {} must be above 0; got {}", named.first, named.second));
    if (!(map.leak_S_m2 >= 0) || !std::isfinite(map.leak_S_m2))
        return bad_input(fmt::format("the leak must be at least 0 S/m2; got {}", map.leak_S_m2));
    if (!(map.view_m >= 0 && map.view_m <= map.gap_m) ||
        !(map.view_across_m >= 0 && map.view_across_m <= map.width_m))
        return bad_input(fmt::format("the sensor's view must lie on the sheet; got {} m by {} m", map.view_m,
                                     map.view_across_m));
    if (map.face)
        if (auto problem = problem_of(*map.face, map.gap_m)) return problem;
    if (!(map.induced_fraction >= 0 && map.induced_fraction < 1))
        return bad_input(
            fmt::format("the induced fraction must lie in 0 to below 1; got {}", map.induced_fraction));
    return std::nullopt;
}

}  // namespace

Result<Course> simulate(const SheetMap& map, const Clamps& clamps, std::span<const double> times_s,
                        const Options& options) {
    if (auto problem = problem_of(map)) return *problem;
    if (auto problem = problem_of(clamps)) return *problem;
    if (auto problem = problem_of(times_s, clamps)) return *problem;
    if (auto problem = problem_of(options)) return *problem;
    CellBalance balance(map, clamps);
    const auto phases = phases_of(clamps);
    auto courses = follow(balance, std::span(&phases, 1), times_s, options);
    if (!courses) return courses.error();
    return std::move(courses.value().front());
}

Result<std::unique_ptr<LiveSheet>> hang_map(const SheetMap& map, const Contacts& contacts,
                                            const Charged& start) {
    const Clamps clamps{.voltage_V = 1,
                        .left_contact_ohm_m = contacts.left_ohm_m,
                        .right_contact_ohm_m = contacts.right_ohm_m};
    if (auto problem = problem_of(map)) return *problem;
    if (auto problem = problem_of(clamps)) return *problem;
    auto balance = std::make_unique<CellBalance>(map, clamps);
    Shown shown = balance->shown();
    return stepped_sheet(std::move(balance), std::move(shown), start);
}

Charged evenly_charged(const SheetMap& map, double reading_V) {
    const Index cells = map.surface_resistivity_ohm_sq.size();
    return {VectorXd::Constant(cells, reading_V / (1 - map.induced_fraction)), Eigen::MatrixXd(cells, 0)};
}

}  // namespace ebbtide::sheet
