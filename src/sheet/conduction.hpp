#pragma once
// Currents along a cut sheet and through its contacts, for a metre of width.

#include <Eigen/Dense>

#include "sheet/forward.hpp"

namespace ebbtide::sheet {

/// Currents over the faces of strips, from left to right: the left clamp's, between strips, the right
/// clamp's; and what each changes for a volt more across the face.
struct Currents {
    Eigen::VectorXd current_A_m;
    Eigen::VectorXd slope_S_m;    ///< when asked
    Eigen::VectorXd root, boost;  ///< beta sqrt|E| and its exponential: room to work in
};

class Conduction {
  public:
    Conduction(const CutSheet& sheet, const Material& material, const Clamps& clamps);

    [[nodiscard]] bool linear() const { return field_coefficient_ == 0; }
    /// Without field.
    [[nodiscard]] const Eigen::VectorXd& conductance_S_m() const { return conductance_; }
    /// Into `out`, of one element more than strips, made as large by the first call; slopes where they are
    /// asked. Not finite where the field is beyond all bounds.
    void currents(const Eigen::VectorXd& potential_V, double clamp_V, bool slopes, Currents& out) const;

    /// beta sqrt|E| where the whole voltage of the clamps lies over the shortest distance between strips.
    [[nodiscard]] double strongest_exponent(double voltage_V) const;

  private:
    void through_contact(Eigen::Index face, double across_V, double contact_ohm_m, Currents& out) const;

    double resistivity_, field_coefficient_;
    double left_contact_, right_contact_;
    Eigen::VectorXd distance_, conductance_;
    Eigen::VectorXd squared_per_V_,
        without_contact_S_m_;  // beta^2 / distance; conductance of the sheet alone
};

}  // namespace ebbtide::sheet
