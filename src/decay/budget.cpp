#include "decay/budget.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <utility>

namespace ebbtide::decay {

std::string_view name_of(Scope scope) {
    switch (scope) {
        case Scope::run:
            return "run";
        case Scope::series:
            return "series";
        case Scope::day:
            return "day";
        case Scope::bench:
            return "bench";
    }
    return "";
}

double combined_u_s(std::span<const Contribution> budget) {
    double variance = 0;
    for (const Contribution& c : budget) variance += c.u_s() * c.u_s();
    return std::sqrt(variance);
}

std::optional<double> effective_degrees_of_freedom(std::span<const Contribution> budget) {
    double fourth = 0;
    for (const Contribution& c : budget)
        if (c.degrees_of_freedom) fourth += std::pow(c.u_s(), 4) / *c.degrees_of_freedom;
    const double freedom = std::pow(combined_u_s(budget), 4) / fourth;
    // Beyond a thousand million nothing tells it from infinity, and tiny parts overflow.
    if (!(freedom < 1e9)) return {};
    return freedom;
}

double u_of_mean_s(std::span<const std::span<const Contribution>> budgets) {
    const double n = static_cast<double>(budgets.size());
    double run_variance = 0;
    std::map<std::string, double> shared;  // the same source in every run moves all of them together
    for (const auto& budget : budgets) {
        for (const Contribution& c : budget) {
            if (c.scope == Scope::run)
                run_variance += c.u_s() * c.u_s() / (n * n);
            else
                shared[c.source] += c.u_s() / n;
        }
    }
    double variance = run_variance;
    for (const auto& [source, u_s] : shared) variance += u_s * u_s;
    return std::sqrt(variance);
}

}  // namespace ebbtide::decay
