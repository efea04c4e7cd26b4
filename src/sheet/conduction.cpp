#include "sheet/conduction.hpp"

#include <cmath>
#include <span>

#include "lanes/exp_log.hpp"

namespace ebbtide::sheet {

using Eigen::Index, Eigen::VectorXd;

Conduction::Conduction(const CutSheet& sheet, const Material& material, const Clamps& clamps)
    : resistivity_(material.surface_resistivity_ohm_sq),
      field_coefficient_(material.field_coefficient),
      left_contact_(clamps.left_contact_ohm_m),
      right_contact_(clamps.right_contact_ohm_m),
      distance_(sheet.strips() + 1) {
    const VectorXd width = sheet.width_m();
    const Index last = sheet.strips();
    // From the middle of a strip to that of the next, or to the clamp.
    distance_(0) = width(0) / 2;
    distance_(last) = width(last - 1) / 2;
    for (Index i = 1; i < last; ++i) distance_(i) = (width(i - 1) + width(i)) / 2;
    squared_per_V_ = field_coefficient_ * field_coefficient_ * distance_.cwiseInverse();
    without_contact_S_m_ = conductance_ = (resistivity_ * distance_).cwiseInverse();
    conductance_(0) = 1 / (resistivity_ * distance_(0) + left_contact_);
    conductance_(last) = 1 / (resistivity_ * distance_(last) + right_contact_);
}

double Conduction::strongest_exponent(double voltage_V) const {
    return field_coefficient_ * std::sqrt(std::abs(voltage_V) / distance_.minCoeff());
}

void Conduction::currents(const VectorXd& potential_V, double clamp_V, bool slopes, Currents& out) const {
    const Index last = potential_V.size();
    out.current_A_m.resize(last + 1);
    VectorXd& across = out.current_A_m;
    across(0) = clamp_V - potential_V(0);
    across.segment(1, last - 1) = potential_V.head(last - 1) - potential_V.tail(last - 1);
    across(last) = potential_V(last - 1) - clamp_V;
    if (linear()) {
        if (slopes) out.slope_S_m = conductance_;
        across.array() *= conductance_.array();
        return;
    }
    const double across_left = across(0), across_right = across(last);
    out.root = (across.array().abs() * squared_per_V_.array()).sqrt();
    out.boost.resize(last + 1);
    lanes::exp_all(std::span(out.root.data(), static_cast<std::size_t>(last + 1)),
                   std::span(out.boost.data(), static_cast<std::size_t>(last + 1)));
    out.boost.array() *= without_contact_S_m_.array();
    across.array() *= out.boost.array();
    out.slope_S_m.resize(last + 1);
    if (slopes) out.slope_S_m = out.boost.array() * (1 + out.root.array() / 2);
    if (left_contact_ > 0) through_contact(0, across_left, left_contact_, out);
    if (right_contact_ > 0) through_contact(last, across_right, right_contact_, out);
}

// The field in the sheet's half strip is what the contact leaves: E d + R_c K(E) = across. The left side is
// convex in |E|, so that Newton's steps from above never pass the root.
void Conduction::through_contact(Index face, double across_V, double contact_ohm_m, Currents& out) const {
    const double distance = distance_(face), all = std::abs(across_V);
    double field = all / distance, current = 0, slope = 0;
    for (int i = 0; i < 200; ++i) {
        const double root = field_coefficient_ * std::sqrt(field);
        current = field * std::exp(root) / resistivity_;
        slope = std::exp(root) * (1 + root / 2) / resistivity_;
        const double next =
            field - (field * distance + contact_ohm_m * current - all) / (distance + contact_ohm_m * slope);
        const bool there = !(std::abs(next - field) > 1e-15 * field);
        field = std::max(next, 0.0);
        if (there) break;
    }
    out.current_A_m(face) = std::copysign((all - field * distance) / contact_ohm_m, across_V);
    if (contact_ohm_m * current < 0.5 * all) out.current_A_m(face) = std::copysign(current, across_V);
    out.slope_S_m(face) = slope / (distance + contact_ohm_m * slope);
}

}  // namespace ebbtide::sheet
