#include "sheet/balance.hpp"

#include <cmath>
#include <limits>
#include <stdexcept>

namespace ebbtide::sheet {

using Eigen::Index, Eigen::MatrixXd, Eigen::VectorXd;

void State::add(double factor, const State& other) {
    if (factor == 0) return;
    own_V += factor * other.own_V;
    absorbed_V += factor * other.absorbed_V;
    through_C_m += factor * other.through_C_m;
    leaked_C_m += factor * other.leaked_C_m;
}

void State::add(std::span<const double> f, const State* others) {
    const auto V = [&](std::size_t i) -> const VectorXd& { return others[i].own_V; };
    switch (f.size()) {
        case 0:
            break;
        case 1:
            own_V += f[0] * V(0);
            break;
        case 2:
            own_V += f[0] * V(0) + f[1] * V(1);
            break;
        case 3:
            own_V += f[0] * V(0) + f[1] * V(1) + f[2] * V(2);
            break;
        case 4:
            own_V += f[0] * V(0) + f[1] * V(1) + f[2] * V(2) + f[3] * V(3);
            break;
        case 5:
            own_V += f[0] * V(0) + f[1] * V(1) + f[2] * V(2) + f[3] * V(3) + f[4] * V(4);
            break;
        default:
            throw std::logic_error("State::add of more than five");
    }
    for (std::size_t i = 0; i < f.size(); ++i) {
        if (absorbed_V.size() > 0) absorbed_V += f[i] * others[i].absorbed_V;
        through_C_m += f[i] * others[i].through_C_m;
        leaked_C_m += f[i] * others[i].leaked_C_m;
    }
}

State State::empty(Index strips, Index terms) {
    return {VectorXd::Zero(strips), MatrixXd::Zero(strips, terms), 0, 0};
}

Balance::Balance(const CutSheet& sheet, const Material& material, const Conduction& conduction)
    : sheet_(sheet),
      conduction_(conduction),
      width_(sheet.width_m()),
      leak_S_m_(material.leak_S_m2 * width_),
      absorbing_F_m_(width_.size(), static_cast<Index>(material.absorption.size())),
      relaxation_per_s_(static_cast<Index>(material.absorption.size())) {
    for (Index m = 0; m < relaxation_per_s_.size(); ++m) {
        const Absorption& term = material.absorption[static_cast<std::size_t>(m)];
        absorbing_F_m_.col(m) = term.capacitance_F_m2 * width_;
        relaxation_per_s_(m) = 1 / term.relaxation_s;
    }
}

State Balance::empty() const {
    return State::empty(width_.size(), relaxation_per_s_.size());
}

void Balance::rates(const State& at, double clamp_V, bool slopes, Currents& currents, State& out) const {
    const Index last = width_.size();
    VectorXd& V = out.own_V;
    V = at.own_V + clamp_V * sheet_.from_clamps;
    conduction_.currents(V, clamp_V, slopes, currents);
    const VectorXd& I = currents.current_A_m;
    out.absorbed_V.resize(last, relaxation_per_s_.size());
    for (Index m = 0; m < relaxation_per_s_.size(); ++m)
        out.absorbed_V.col(m) = relaxation_per_s_(m) * (V - at.absorbed_V.col(m));
    out.through_C_m = I(last) - I(0);
    out.leaked_C_m = leak_S_m_.dot(V);
    V = I.head(last) - I.tail(last) - leak_S_m_.cwiseProduct(V);
    for (Index m = 0; m < relaxation_per_s_.size(); ++m)
        V -= absorbing_F_m_.col(m).cwiseProduct(out.absorbed_V.col(m));
}

void Balance::rates_by_clamp(const Currents& currents, State& out) const {
    const Index last = width_.size();
    const VectorXd &a = sheet_.from_clamps, &s = currents.slope_S_m;
    out.absorbed_V.resize(last, relaxation_per_s_.size());
    for (Index m = 0; m < relaxation_per_s_.size(); ++m) out.absorbed_V.col(m) = relaxation_per_s_(m) * a;
    const double left = s(0) * (1 - a(0)), right = s(last) * (a(last - 1) - 1);
    out.through_C_m = right - left;
    out.leaked_C_m = leak_S_m_.dot(a);
    out.own_V = -leak_S_m_.cwiseProduct(a);
    out.own_V(0) += left;
    out.own_V(last - 1) -= right;
    for (Index i = 1; i < last; ++i) {
        const double between = s(i) * (a(i - 1) - a(i));
        out.own_V(i - 1) -= between;
        out.own_V(i) += between;
    }
    for (Index m = 0; m < relaxation_per_s_.size(); ++m)
        out.own_V -= absorbing_F_m_.col(m).cwiseProduct(out.absorbed_V.col(m));
}

// Newton's method; absorption has taken all it can and carries nothing.
State Balance::steady(double clamp_V) const {
    const Index last = width_.size();
    VectorXd V = VectorXd::Constant(last, clamp_V);
    Currents currents;
    Tridiagonal system;
    bool there = false;
    for (int i = 0; i < 100 && !there; ++i) {
        conduction_.currents(V, clamp_V, true, currents);
        const VectorXd &I = currents.current_A_m, &s = currents.slope_S_m;
        VectorXd step = I.head(last) - I.tail(last) - leak_S_m_.cwiseProduct(V);
        system.factor(s.head(last) + s.tail(last) + leak_S_m_, s.segment(1, last - 1));
        system.solve(step);
        V += step;
        there = step.cwiseAbs().maxCoeff() <= 1e-13 * std::abs(clamp_V);
    }
    State out = empty();
    if (!there) V.setConstant(std::numeric_limits<double>::quiet_NaN());
    out.own_V = V - clamp_V * sheet_.from_clamps;
    out.absorbed_V.colwise() = V;
    return out;
}

bool Balance::factor(double z, const Currents& currents) {
    const Index last = width_.size();
    const VectorXd& s = currents.slope_S_m;
    z_ = z;
    left_S_m_ = s(0);
    right_S_m_ = s(last);
    VectorXd diagonal = s.head(last) + s.tail(last) + leak_S_m_;
    for (Index m = 0; m < relaxation_per_s_.size(); ++m)
        diagonal += absorbing_F_m_.col(m) * (relaxation_per_s_(m) * z / (z + relaxation_per_s_(m)));
    if (!sheet_.hangs()) {
        diagonal += z * sheet_.backing_F_m;
        tridiagonal_.factor(diagonal, s.segment(1, last - 1));
        return tridiagonal_.sound();
    }
    MatrixXd dense = z * sheet_.influence_F_m;
    dense.diagonal() += diagonal;
    dense.diagonal(1) -= s.segment(1, last - 1);
    dense.diagonal(-1) -= s.segment(1, last - 1);
    if (!dense.allFinite()) return false;
    dense_.compute(dense);
    return dense_.info() == Eigen::Success;
}

void Balance::solve(State& r) const {
    const Index last = width_.size();
    for (Index m = 0; m < relaxation_per_s_.size(); ++m)
        r.own_V += absorbing_F_m_.col(m).cwiseProduct(r.absorbed_V.col(m)) *
                   (relaxation_per_s_(m) / (z_ + relaxation_per_s_(m)));
    if (sheet_.hangs())
        dense_.solveInPlace(r.own_V);
    else
        tridiagonal_.solve(r.own_V);
    for (Index m = 0; m < relaxation_per_s_.size(); ++m)
        r.absorbed_V.col(m) =
            (r.absorbed_V.col(m) + relaxation_per_s_(m) * r.own_V) / (z_ + relaxation_per_s_(m));
    r.through_C_m = (r.through_C_m + left_S_m_ * r.own_V(0) + right_S_m_ * r.own_V(last - 1)) / z_;
    r.leaked_C_m = (r.leaked_C_m + leak_S_m_.dot(r.own_V)) / z_;
}

void Balance::charges(const State& potentials, State& out) const {
    out.absorbed_V = potentials.absorbed_V;
    out.through_C_m = potentials.through_C_m;
    out.leaked_C_m = potentials.leaked_C_m;
    if (sheet_.hangs())
        out.own_V.noalias() = sheet_.influence_F_m * potentials.own_V;
    else
        out.own_V = sheet_.backing_F_m.cwiseProduct(potentials.own_V);
}

VectorXd Balance::charge_C_m(const State& at) const {
    VectorXd out = sheet_.charge_of(at.own_V);
    for (Index m = 0; m < relaxation_per_s_.size(); ++m)
        out += absorbing_F_m_.col(m).cwiseProduct(at.absorbed_V.col(m));
    return out;
}

}  // namespace ebbtide::sheet
