#pragma once
// What changes the charge on a cut sheet, and the linear systems of an implicit step: tridiagonal for a
// backed sheet, dense for a hanging one. Absorption is local and is eliminated.

#include <Eigen/Dense>
#include <span>

#include "sheet/conduction.hpp"
#include "sheet/tridiagonal.hpp"

namespace ebbtide::sheet {

/// Where a sheet stands, or what changes it a second. `own_V` are the strips' potentials without the clamps'
/// part; as a rate of change, the charges of the strips stand in their place (C/m).
struct State {
    Eigen::VectorXd own_V;
    Eigen::MatrixXd absorbed_V;  ///< [strip, term]: the voltage that a term's capacitance has taken
    double through_C_m = 0;      ///< out of the sheet through the clamps
    double leaked_C_m = 0;

    void add(double factor, const State& other);
    /// Up to five at once, which costs little more than one.
    void add(std::span<const double> factors, const State* others);
    [[nodiscard]] static State empty(Eigen::Index strips, Eigen::Index terms);
};

class Balance {
  public:
    Balance(const CutSheet& sheet, const Material& material, const Conduction& conduction);

    [[nodiscard]] State empty() const;
    /// The rates of all, and in `currents` their slopes where they are asked.
    void rates(const State& at, double clamp_V, bool slopes, Currents& currents, State& out) const;
    /// What a volt more on the clamps adds to the rates.
    void rates_by_clamp(const Currents& currents, State& out) const;
    /// Nothing changes any more: held for long at this voltage. Not finite when it is not found.
    [[nodiscard]] State steady(double clamp_V) const;

    /// Makes ready `solve` for (z - J) x = r. False when it cannot.
    [[nodiscard]] bool factor(double z, const Currents& currents);
    /// Takes the rates r to x, whose own_V are potentials.
    void solve(State& r) const;
    /// Rates from potentials: charges in place of own_V.
    void charges(const State& potentials, State& out) const;

    [[nodiscard]] const CutSheet& sheet() const { return sheet_; }
    [[nodiscard]] Eigen::VectorXd potential_V(const State& at, double clamp_V) const {
        return at.own_V + clamp_V * sheet_.from_clamps;
    }
    /// On each strip, absorbed charge included.
    [[nodiscard]] Eigen::VectorXd charge_C_m(const State& at) const;

  private:
    const CutSheet& sheet_;
    const Conduction& conduction_;
    Eigen::VectorXd width_, leak_S_m_;
    Eigen::MatrixXd absorbing_F_m_;  // [strip, term]
    Eigen::VectorXd relaxation_per_s_;
    // The factored system.
    double z_ = 0, left_S_m_ = 0, right_S_m_ = 0;
    Tridiagonal tridiagonal_;            // backed
    Eigen::LLT<Eigen::MatrixXd> dense_;  // hanging
};

}  // namespace ebbtide::sheet
