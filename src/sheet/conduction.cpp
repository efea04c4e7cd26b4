#include "sheet/conduction.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "lanes/field_currents.hpp"

namespace ebbtide::sheet {
namespace {

using Eigen::Index, Eigen::VectorXd;

std::span<double> all_of(VectorXd& v) {
    return {v.data(), static_cast<std::size_t>(v.size())};
}
std::span<const double> all_of(const VectorXd& v) {
    return {v.data(), static_cast<std::size_t>(v.size())};
}

}  // namespace

Conduction::Conduction(const CutSheet& sheet, const Material& material, const Clamps& clamps)
    : Conduction(sheet, std::span(&material, 1), std::span(&clamps, 1)) {}

Conduction::Conduction(const CutSheet& sheet, std::span<const Material> materials,
                       std::span<const Clamps> clamps)
    : sheets_(static_cast<Index>(materials.size())) {
    const VectorXd width = sheet.width_m();
    const Index last = sheet.strips();
    // From the middle of a strip to that of the next, or to the clamp.
    VectorXd distance(last + 1);
    distance(0) = width(0) / 2;
    distance(last) = width(last - 1) / 2;
    for (Index i = 1; i < last; ++i) distance(i) = (width(i - 1) + width(i)) / 2;
    conductance_.resize(sheets_ * (last + 1));
    VectorXd squared_per_V = conductance_, alone = conductance_;
    bool depends = false;
    for (Index k = 0; k < sheets_; ++k) {
        const Material& material = materials[static_cast<std::size_t>(k)];
        const Clamps& clamp = clamps[static_cast<std::size_t>(k)];
        const double beta = material.field_coefficient, R = material.surface_resistivity_ohm_sq;
        depends = depends || beta != 0;
        strongest_per_root_V_ = std::max(strongest_per_root_V_, beta / std::sqrt(distance.minCoeff()));
        for (Index i = 0; i <= last; ++i) {
            const Index face = i * sheets_ + k;
            const double contact = i == 0                         ? clamp.left_contact_ohm_m
                                   : i == last && !sheet.mirrored ? clamp.right_contact_ohm_m
                                                                  : 0;
            squared_per_V(face) = beta * beta / distance(i);
            alone(face) = 1 / (R * distance(i));
            conductance_(face) = 1 / (R * distance(i) + contact);
            if (contact > 0) poor_.push_back({face, contact, R, beta, distance(i)});
        }
        if (sheet.mirrored) conductance_(last * sheets_ + k) = alone(last * sheets_ + k) = 0;
    }
    if (!depends) return;
    squared_per_V_ = squared_per_V;
    without_contact_S_m_ = alone;
}

double Conduction::strongest_exponent(double voltage_V) const {
    return strongest_per_root_V_ * std::sqrt(std::abs(voltage_V));
}

void Conduction::currents(const VectorXd& potential_V, std::span<const double> clamp_V, bool slopes,
                          Currents& out) const {
    const Index n = sheets_, inside = potential_V.size() - n;
    out.current_A_m.resize(potential_V.size() + n);
    VectorXd& across = out.current_A_m;
    const Eigen::Map<const VectorXd> clamp(clamp_V.data(), n);
    across.head(n) = clamp - potential_V.head(n);
    across.segment(n, inside) = potential_V.head(inside) - potential_V.tail(inside);
    across.tail(n) = potential_V.tail(n) - clamp;
    if (linear()) {
        if (slopes) out.slope_S_m = conductance_;
        across.array() *= conductance_.array();
        return;
    }
    std::array<double, 8> across_contact{};
    for (std::size_t i = 0; i < poor_.size(); ++i) across_contact[i] = across(poor_[i].face);
    out.slope_S_m.resize(across.size());
    lanes::field_currents(all_of(across), all_of(squared_per_V_), all_of(without_contact_S_m_),
                          slopes ? all_of(out.slope_S_m) : std::span<double>());
    for (std::size_t i = 0; i < poor_.size(); ++i) poor_[i].currents(across_contact[i], out);
}

// The field in the sheet's half strip is what the contact leaves: E d + R_c K(E) = across. The left side is
// convex in |E|, so that Newton's steps from above never pass the root.
void Conduction::Contact::currents(double across_V, Currents& out) const {
    const double all = std::abs(across_V);
    double field = all / distance_m, current = 0, slope = 0;
    for (int i = 0; i < 200; ++i) {
        const double root = field_coefficient * std::sqrt(field);
        current = field * std::exp(root) / resistivity_ohm_sq;
        slope = std::exp(root) * (1 + root / 2) / resistivity_ohm_sq;
        const double next =
            field - (field * distance_m + ohm_m * current - all) / (distance_m + ohm_m * slope);
        const bool there = !(std::abs(next - field) > 1e-15 * field);
        field = std::max(next, 0.0);
        if (there) break;
    }
    out.current_A_m(face) = std::copysign((all - field * distance_m) / ohm_m, across_V);
    if (ohm_m * current < 0.5 * all) out.current_A_m(face) = std::copysign(current, across_V);
    out.slope_S_m(face) = slope / (distance_m + ohm_m * slope);
}

}  // namespace ebbtide::sheet
