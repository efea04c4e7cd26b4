#pragma once
// The balance of a cut sheet, or of several cut alike side by side, and the linear systems of an implicit
// step: tridiagonal for a backed sheet, dense for a hanging one. Absorption is local and is eliminated.

#include "sheet/balance.hpp"
#include "sheet/conduction.hpp"
#include "sheet/tridiagonal.hpp"

namespace ebbtide::sheet {

class StripBalance : public Balance {
  public:
    /// As many materials as clamps: one, or four of a backed sheet, whose materials have equally many terms
    /// of absorption.
    StripBalance(const CutSheet& sheet, std::span<const Material> materials, std::span<const Clamps> clamps);

    [[nodiscard]] State empty() const override;
    void rates(const State& at, const Each& clamp_V, State& out) override;
    void linearise(const State& at, const Each& clamp_V, State& out) override;
    void rates_by_clamp(const Each& slope_V_s, State& out) const override;
    [[nodiscard]] double fastest_per_s() const override;
    [[nodiscard]] double strongest_exponent(double clamp_V) const override {
        return conduction_.strongest_exponent(clamp_V);
    }
    [[nodiscard]] bool factor(double z) override;
    void solve(State& r) const override;
    void charges(const State& potentials, State& out) const override;
    [[nodiscard]] State steady(const Each& clamp_V) const override;
    void note(const State& at, const Each& clamp_V, bool profiles, std::span<Course> out) const override;

  private:
    void rates_of(const State& at, const Each& clamp_V, bool slopes, Currents& currents, State& out) const;
    /// Sum over the strips of each sheet.
    [[nodiscard]] Each sum(const Eigen::VectorXd& of_strips) const;

    const CutSheet& sheet_;
    Conduction conduction_;
    Eigen::Index sheets_, terms_;
    bool leaks_ = false;
    // Of all strips, as State.
    Eigen::VectorXd backing_F_m_, from_clamps_, leak_S_m_;
    Eigen::MatrixXd absorbing_F_m_, relaxation_per_s_;  // [strip, term]
    Currents here_, stage_;
    // The factored system.
    double z_ = 0;
    Eigen::MatrixXd taken_up_;           // part of a term's charge that a step's z leaves to the strip
    Tridiagonal tridiagonal_;            // backed
    Eigen::LLT<Eigen::MatrixXd> dense_;  // hanging
};

}  // namespace ebbtide::sheet
