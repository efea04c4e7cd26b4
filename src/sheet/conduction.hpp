#pragma once
// Currents along cut sheets and through their contacts, for a metre of width.

#include <Eigen/Dense>
#include <span>
#include <vector>

#include "sheet/forward.hpp"

namespace ebbtide::sheet {

/// Currents over the faces of strips, from left to right: the left clamp's, between strips, the right
/// clamp's; and what each changes for a volt more across the face.
struct Currents {
    Eigen::VectorXd current_A_m;
    Eigen::VectorXd slope_S_m;  ///< when asked
};

/// Of one sheet, or of several cut alike, whose strips and faces then lie side by side: those of one place
/// next to each other.
class Conduction {
  public:
    Conduction(const CutSheet& sheet, const Material& material, const Clamps& clamps);
    /// As many materials as clamps.
    Conduction(const CutSheet& sheet, std::span<const Material> materials, std::span<const Clamps> clamps);

    [[nodiscard]] bool linear() const { return squared_per_V_.size() == 0; }
    /// Without field.
    [[nodiscard]] const Eigen::VectorXd& conductance_S_m() const { return conductance_; }
    /// Into `out`, of one element more than strips for each sheet, made as large by the first call; slopes
    /// where they are asked. `clamp_V` of each sheet. Not finite where the field is beyond all bounds.
    void currents(const Eigen::VectorXd& potential_V, std::span<const double> clamp_V, bool slopes,
                  Currents& out) const;

    /// beta sqrt|E| where the whole voltage of the clamps lies over the shortest distance between strips.
    [[nodiscard]] double strongest_exponent(double voltage_V) const;

  private:
    /// Of a sheet and one of its clamps: the half strip before it, and the contact.
    struct Contact {
        Eigen::Index face = 0;
        double ohm_m = 0, resistivity_ohm_sq = 0, field_coefficient = 0, distance_m = 0;
        void currents(double across_V, Currents& out) const;
    };

    Eigen::Index sheets_;
    double strongest_per_root_V_ = 0;
    Eigen::VectorXd conductance_;
    // Where a resistivity depends on the field: beta^2 / distance; conductance of the sheet alone.
    Eigen::VectorXd squared_per_V_, without_contact_S_m_;
    std::vector<Contact> poor_;  // contacts that take some of the voltage
};

}  // namespace ebbtide::sheet
