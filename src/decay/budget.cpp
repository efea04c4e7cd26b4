#include "decay/budget.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <tuple>
#include <utility>

namespace ebbtide::decay {
namespace {

constexpr std::size_t none = static_cast<std::size_t>(-1);

/// Index of the source that a line is correlated with; none when the budget lacks it, or when it has said so
/// already: a pair counts once.
std::size_t partner_of(std::span<const Contribution> budget, std::size_t line) {
    const Contribution& one = budget[line];
    if (one.correlated_with.empty() || one.correlation == 0 || one.correlated_with == one.source) return none;
    for (std::size_t i = 0; i < budget.size(); ++i) {
        if (budget[i].source != one.correlated_with) continue;
        const bool said_before = i < line && budget[i].correlated_with == one.source;
        return said_before ? none : i;
    }
    return none;
}

/// Runs with the same name share one error of this scope.
std::string sharing(Scope scope, const RunBudget& run, std::size_t index) {
    switch (scope) {
        case Scope::run:
            return std::to_string(index);
        case Scope::series:
            return run.series;
        case Scope::day:
            return run.day;
        case Scope::bench:
            return "";
    }
    return "";
}

/// One source over all runs of a mean.
struct MeanLine {
    Contribution first;
    double u_squares = 0, weight = 0;
    std::map<std::string, double> shared_s;  // signed share of the mean, by what the runs share
    std::map<std::string, double> freedom;   // the smallest, by the same; without an entry: infinite

    [[nodiscard]] double variance() const {
        double sum = 0;
        for (const auto& [name, c_s] : shared_s) sum += c_s * c_s;
        return sum;
    }
};

using LineKey = std::tuple<std::string, Scope, std::string>;  // source, scope, unit

LineKey key_of(const Contribution& c) {
    return {c.source, c.scope, c.unit};
}

std::map<LineKey, MeanLine> lines_of_mean(std::span<const RunBudget> runs) {
    const double n = static_cast<double>(runs.size());
    std::map<LineKey, MeanLine> lines;
    for (std::size_t i = 0; i < runs.size(); ++i) {
        for (const Contribution& c : runs[i].budget) {
            MeanLine& line = lines.try_emplace(key_of(c), MeanLine{c, 0, 0, {}, {}}).first->second;
            line.u_squares += c.u * c.u;
            line.weight += 1;
            const std::string share = sharing(c.scope, runs[i], i);
            line.shared_s[share] += c.u * c.sensitivity / n;
            if (!c.degrees_of_freedom) continue;
            double& freedom = line.freedom.try_emplace(share, *c.degrees_of_freedom).first->second;
            freedom = std::min(freedom, *c.degrees_of_freedom);
        }
    }
    return lines;
}

/// Sum of the parts of two lines that meet in some run, each pair of shared errors once.
double covariance_s2(std::span<const RunBudget> runs, const MeanLine& one, const MeanLine& other, double r) {
    std::map<std::pair<std::string, std::string>, double> pairs;
    for (std::size_t i = 0; i < runs.size(); ++i) {
        const std::string a = sharing(one.first.scope, runs[i], i),
                          b = sharing(other.first.scope, runs[i], i);
        const auto in_one = one.shared_s.find(a), in_other = other.shared_s.find(b);
        if (in_one == one.shared_s.end() || in_other == other.shared_s.end()) continue;
        pairs[{a, b}] = in_one->second * in_other->second;
    }
    double sum = 0;
    for (const auto& [names, product] : pairs) sum += product;
    return r * sum;
}

Contribution merged(const MeanLine& line) {
    Contribution out = line.first;
    out.correlated_with.clear();
    out.correlation = 0;
    const double variance = line.variance();
    out.u = std::sqrt(line.u_squares / line.weight);
    double sum = 0;
    for (const auto& [name, c_s] : line.shared_s) sum += c_s;
    out.sensitivity = out.u > 0 ? std::copysign(std::sqrt(variance) / out.u, sum) : 0;
    if (out.pooled) return out;
    double fourth = 0;
    for (const auto& [name, freedom] : line.freedom) fourth += std::pow(line.shared_s.at(name), 4) / freedom;
    out.degrees_of_freedom.reset();
    if (fourth > 0) out.degrees_of_freedom = variance * variance / fourth;
    return out;
}

}  // namespace

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
    for (std::size_t i = 0; i < budget.size(); ++i) {
        const std::size_t partner = partner_of(budget, i);
        if (partner == none) continue;
        const Contribution& one = budget[i];
        const Contribution& other = budget[partner];
        variance += 2 * one.correlation * one.u * one.sensitivity * other.u * other.sensitivity;
    }
    return std::sqrt(std::max(0.0, variance));
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

std::vector<Contribution> budget_of_mean(std::span<const RunBudget> runs) {
    const std::map<LineKey, MeanLine> lines = lines_of_mean(runs);
    std::map<LineKey, Contribution> out;
    for (const auto& [key, line] : lines) out.emplace(key, merged(line));
    // Correlations as the runs state them, turned into those of the mean's lines.
    for (const RunBudget& run : runs) {
        for (std::size_t i = 0; i < run.budget.size(); ++i) {
            const std::size_t partner = partner_of(run.budget, i);
            if (partner == none) continue;
            Contribution& one = out.at(key_of(run.budget[i]));
            const Contribution& other = out.at(key_of(run.budget[partner]));
            if (!one.correlated_with.empty()) continue;
            const double product = one.u * one.sensitivity * other.u * other.sensitivity;
            if (product == 0) continue;
            one.correlated_with = other.source;
            one.correlation = covariance_s2(runs, lines.at(key_of(one)), lines.at(key_of(other)),
                                            run.budget[i].correlation) /
                              product;
        }
    }
    std::vector<Contribution> budget;
    for (auto& [key, line] : out) budget.push_back(std::move(line));
    std::ranges::stable_sort(budget, std::greater{}, &Contribution::u_s);
    return budget;
}

double u_of_mean_s(std::span<const RunBudget> runs) {
    return combined_u_s(budget_of_mean(runs));
}

}  // namespace ebbtide::decay
