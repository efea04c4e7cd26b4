#include "sheet/balance.hpp"

#include <algorithm>
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

double State::largest_over(const Each& allowed_V) const {
    if (!own_V.allFinite() || !absorbed_V.allFinite()) return std::numeric_limits<double>::quiet_NaN();
    const Index sheets = allowed_V.size();
    const auto over = [&](const double* V, Index size) {
        const Eigen::Map<const Eigen::ArrayXXd> each(V, sheets, size / sheets);
        return (each.abs().rowwise().maxCoeff() / allowed_V).maxCoeff();
    };
    double out = over(own_V.data(), own_V.size());
    if (absorbed_V.size() > 0) out = std::max(out, over(absorbed_V.data(), absorbed_V.size()));
    return out;
}

State State::empty(Index sheets, Index pieces, Index terms) {
    return {VectorXd::Zero(sheets * pieces), MatrixXd::Zero(sheets * pieces, terms), Each::Zero(sheets),
            Each::Zero(sheets)};
}

}  // namespace ebbtide::sheet
