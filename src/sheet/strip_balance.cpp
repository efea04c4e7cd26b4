#include "sheet/strip_balance.hpp"

#include <cmath>
#include <limits>

namespace ebbtide::sheet {

using Eigen::Index, Eigen::MatrixXd, Eigen::VectorXd;

namespace {

std::span<const double> span_of(const Each& each) {
    return {each.data(), static_cast<std::size_t>(each.size())};
}

}  // namespace

StripBalance::StripBalance(const CutSheet& sheet, std::span<const Material> materials,
                           std::span<const Clamps> clamps)
    : sheet_(sheet),
      conduction_(sheet, materials, clamps),
      sheets_(static_cast<Index>(materials.size())),
      terms_(static_cast<Index>(materials.front().absorption.size())) {
    const Index strips = sheet.strips();
    const VectorXd width = sheet.width_m();
    from_clamps_.resize(strips * sheets_);
    leak_S_m_.resize(strips * sheets_);
    if (!sheet.hangs()) backing_F_m_.resize(strips * sheets_);
    absorbing_F_m_.resize(strips * sheets_, terms_);
    relaxation_per_s_.resize(strips * sheets_, terms_);
    for (Index k = 0; k < sheets_; ++k) {
        const Material& material = materials[static_cast<std::size_t>(k)];
        leaks_ = leaks_ || material.leak_S_m2 > 0;
        for (Index i = 0; i < strips; ++i) {
            const Index at = i * sheets_ + k;
            from_clamps_(at) = sheet.from_clamps(i);
            leak_S_m_(at) = material.leak_S_m2 * width(i);
            if (!sheet.hangs()) backing_F_m_(at) = sheet.backing_F_m(i);
            for (Index m = 0; m < terms_; ++m) {
                const Absorption& term = material.absorption[static_cast<std::size_t>(m)];
                absorbing_F_m_(at, m) = term.capacitance_F_m2 * width(i);
                relaxation_per_s_(at, m) = 1 / term.relaxation_s;
            }
        }
    }
}

State StripBalance::empty() const {
    return State::empty(sheets_, sheet_.strips(), terms_);
}

Each StripBalance::sum(const VectorXd& of_strips) const {
    if (sheets_ == 1) return Each::Constant(1, of_strips.sum());
    Eigen::Array4d out = Eigen::Array4d::Zero();
    for (Index i = 0; i < of_strips.size(); i += 4) out += of_strips.segment<4>(i).array();
    return out;
}

void StripBalance::rates_of(const State& at, const Each& clamp_V, bool slopes, Currents& currents,
                            State& out) const {
    const Index all = leak_S_m_.size();
    VectorXd& V = out.own_V;
    V = at.own_V;
    if (sheet_.hangs()) V += clamp_V(0) * from_clamps_;  // backed, there is nothing between the clamps
    conduction_.currents(V, span_of(clamp_V), slopes, currents);
    const VectorXd& I = currents.current_A_m;
    out.absorbed_V.resize(all, terms_);
    for (Index m = 0; m < terms_; ++m)
        out.absorbed_V.col(m) = relaxation_per_s_.col(m).cwiseProduct(V - at.absorbed_V.col(m));
    out.through_C_m = (I.tail(sheets_) - I.head(sheets_)).array();
    out.leaked_C_m.setZero(sheets_);
    if (leaks_) {
        const VectorXd leak = leak_S_m_.cwiseProduct(V);
        out.leaked_C_m = sum(leak);
        V = I.head(all) - I.tail(all) - leak;
    } else {
        V = I.head(all) - I.tail(all);
    }
    for (Index m = 0; m < terms_; ++m) V -= absorbing_F_m_.col(m).cwiseProduct(out.absorbed_V.col(m));
}

void StripBalance::rates(const State& at, const Each& clamp_V, State& out) {
    rates_of(at, clamp_V, false, stage_, out);
}

void StripBalance::linearise(const State& at, const Each& clamp_V, State& out) {
    rates_of(at, clamp_V, true, here_, out);
}

void StripBalance::rates_by_clamp(const Each& slope_V_s, State& out) const {
    const Index n = sheets_, all = leak_S_m_.size();
    // What the strips' potentials would rise by, and the faces' currents for it.
    const VectorXd rise =
        (from_clamps_.reshaped(n, all / n).array().colwise() * slope_V_s).reshaped().matrix();
    const VectorXd& s = here_.slope_S_m;
    VectorXd current(all + n);
    current.head(n) = slope_V_s.matrix() - rise.head(n);
    current.segment(n, all - n) = rise.head(all - n) - rise.tail(all - n);
    current.tail(n) = rise.tail(n) - slope_V_s.matrix();
    current.array() *= s.array();
    out.absorbed_V = relaxation_per_s_.array().colwise() * rise.array();
    out.through_C_m = (current.tail(n) - current.head(n)).array();
    const VectorXd leak = leak_S_m_.cwiseProduct(rise);
    out.leaked_C_m = sum(leak);
    out.own_V = current.head(all) - current.tail(all) - leak;
    for (Index m = 0; m < terms_; ++m) out.own_V -= absorbing_F_m_.col(m).cwiseProduct(out.absorbed_V.col(m));
}

double StripBalance::fastest_per_s() const {
    const Index all = leak_S_m_.size();
    const VectorXd& s = here_.slope_S_m;
    const VectorXd own = sheet_.hangs() ? VectorXd(sheet_.influence_F_m.diagonal()) : backing_F_m_;
    return (s.head(all) + s.tail(all)).cwiseQuotient(own).maxCoeff();
}

// Newton's method; absorption has taken all it can and carries nothing.
State StripBalance::steady(const Each& clamp_V) const {
    const Index n = sheets_, all = leak_S_m_.size();
    const Each largest_V = clamp_V.abs();
    VectorXd V(all);
    V.reshaped(n, all / n).colwise() = clamp_V.matrix();
    Currents currents;
    Tridiagonal system;
    bool there = false;
    for (int i = 0; i < 100 && !there; ++i) {
        conduction_.currents(V, span_of(clamp_V), true, currents);
        const VectorXd &I = currents.current_A_m, &s = currents.slope_S_m;
        VectorXd step = I.head(all) - I.tail(all) - leak_S_m_.cwiseProduct(V);
        system.factor(s.head(all) + s.tail(all) + leak_S_m_, s.segment(n, all - n), n);
        system.solve(step);
        V += step;
        there = (step.reshaped(n, all / n).array().abs().rowwise().maxCoeff() <= 1e-13 * largest_V).all();
    }
    State out = empty();
    if (!there) V.setConstant(std::numeric_limits<double>::quiet_NaN());
    out.own_V = V - (from_clamps_.reshaped(n, all / n).array().colwise() * clamp_V).reshaped().matrix();
    out.absorbed_V.colwise() = V;
    return out;
}

bool StripBalance::factor(double z) {
    const Index n = sheets_, all = leak_S_m_.size();
    const VectorXd& s = here_.slope_S_m;
    z_ = z;
    VectorXd diagonal = s.head(all) + s.tail(all) + leak_S_m_;
    if (terms_ > 0) {
        taken_up_ = relaxation_per_s_.array() / (z + relaxation_per_s_.array());
        diagonal += z * absorbing_F_m_.cwiseProduct(taken_up_).rowwise().sum();
    }
    if (!sheet_.hangs()) {
        diagonal += z * backing_F_m_;
        tridiagonal_.factor(diagonal, s.segment(n, all - n), n);
        return tridiagonal_.sound();
    }
    MatrixXd dense = z * sheet_.influence_F_m;
    dense.diagonal() += diagonal;
    dense.diagonal(1) -= s.segment(1, all - 1);
    dense.diagonal(-1) -= s.segment(1, all - 1);
    if (!dense.allFinite()) return false;
    dense_.compute(dense);
    return dense_.info() == Eigen::Success;
}

void StripBalance::solve(State& r) const {
    const Index n = sheets_;
    for (Index m = 0; m < terms_; ++m)
        r.own_V += absorbing_F_m_.col(m).cwiseProduct(taken_up_.col(m)).cwiseProduct(r.absorbed_V.col(m));
    if (sheet_.hangs())
        dense_.solveInPlace(r.own_V);
    else
        tridiagonal_.solve(r.own_V);
    for (Index m = 0; m < terms_; ++m)
        r.absorbed_V.col(m) =
            r.absorbed_V.col(m).cwiseQuotient((z_ + relaxation_per_s_.col(m).array()).matrix()) +
            taken_up_.col(m).cwiseProduct(r.own_V);
    const VectorXd& s = here_.slope_S_m;
    r.through_C_m +=
        (s.head(n).cwiseProduct(r.own_V.head(n)) + s.tail(n).cwiseProduct(r.own_V.tail(n))).array();
    r.through_C_m /= z_;
    if (leaks_) r.leaked_C_m += sum(leak_S_m_.cwiseProduct(r.own_V));
    r.leaked_C_m /= z_;
}

void StripBalance::charges(const State& potentials, State& out) const {
    out.absorbed_V = potentials.absorbed_V;
    out.through_C_m = potentials.through_C_m;
    out.leaked_C_m = potentials.leaked_C_m;
    if (sheet_.hangs())
        out.own_V.noalias() = sheet_.influence_F_m * potentials.own_V;
    else
        out.own_V = backing_F_m_.cwiseProduct(potentials.own_V);
}

void StripBalance::note(const State& at, const Each& clamp_V, bool profiles, std::span<Course> out) const {
    const Index n = sheets_, strips = sheet_.strips();
    for (Index k = 0; k < n; ++k) {
        Course& course = out[static_cast<std::size_t>(k)];
        const VectorXd own_V = at.own_V.reshaped(n, strips).row(k).transpose();
        const VectorXd own_C_m = sheet_.charge_of(own_V);
        VectorXd charge = own_C_m;
        for (Index m = 0; m < terms_; ++m)
            charge += absorbing_F_m_.col(m)
                          .cwiseProduct(at.absorbed_V.col(m))
                          .reshaped(n, strips)
                          .row(k)
                          .transpose();
        course.clamp_V.push_back(clamp_V(k));
        course.sensed_V.push_back(sheet_.reading_V_per_C_m.dot(own_C_m) +
                                  sheet_.induced_fraction * clamp_V(k));
        course.charge_C_m.push_back(charge.sum());
        course.through_clamps_C_m.push_back(at.through_C_m(k));
        course.leaked_C_m.push_back(at.leaked_C_m(k));
        if (!profiles) continue;
        const VectorXd V = own_V + clamp_V(k) * sheet_.from_clamps,
                       q = charge.cwiseQuotient(sheet_.width_m());
        course.potential_V.emplace_back(V.begin(), V.end());
        course.charge_C_m2.emplace_back(q.begin(), q.end());
    }
}

}  // namespace ebbtide::sheet
