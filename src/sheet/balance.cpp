#include "sheet/balance.hpp"

#include <algorithm>
#include <array>
#include <limits>
#include <stdexcept>

#include "lanes/linear_combination.hpp"

namespace ebbtide::sheet {

using Eigen::Index, Eigen::MatrixXd, Eigen::VectorXd;

namespace {

constexpr std::size_t most_combined = 6;

}  // namespace

void State::add(double factor, const State& other) {
    if (factor == 0) return;
    own_V += factor * other.own_V;
    absorbed_V += factor * other.absorbed_V;
    through_C_m += factor * other.through_C_m;
    leaked_C_m += factor * other.leaked_C_m;
}

void State::combine(const State* start, std::span<const double> factors, const State* others) {
    const auto all_of = [](const auto& m) { return std::span(m.data(), static_cast<std::size_t>(m.size())); };
    std::array<const double*, most_combined> own{}, absorbed{};
    if (factors.size() > most_combined) throw std::logic_error("State::combine of more than six");
    if (start) {
        through_C_m = start->through_C_m;
        leaked_C_m = start->leaked_C_m;
    } else {
        through_C_m.setZero();
        leaked_C_m.setZero();
    }
    for (std::size_t i = 0; i < factors.size(); ++i) {
        own[i] = others[i].own_V.data();
        absorbed[i] = others[i].absorbed_V.data();
        through_C_m += factors[i] * others[i].through_C_m;
        leaked_C_m += factors[i] * others[i].leaked_C_m;
    }
    const std::span<const double> none;
    const auto size = [](const auto& m) { return static_cast<std::size_t>(m.size()); };
    lanes::linear_combination(start ? all_of(start->own_V) : none, factors,
                              std::span(own).first(factors.size()), {own_V.data(), size(own_V)});
    if (absorbed_V.size() > 0)
        lanes::linear_combination(start ? all_of(start->absorbed_V) : none, factors,
                                  std::span(absorbed).first(factors.size()),
                                  {absorbed_V.data(), size(absorbed_V)});
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
