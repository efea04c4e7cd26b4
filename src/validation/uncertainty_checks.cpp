#include <array>
#include <cmath>
#include <numbers>

#include "decay/budget.hpp"
#include "lanes/random.hpp"
#include "stats/monte_carlo.hpp"
#include "validation/checks.hpp"

namespace ebbtide::validation {
namespace {

using decay::Contribution;
using decay::Scope;

const char* const subject = "Uncertainty";

Contribution part(double u, std::optional<double> freedom) {
    return {"part", u, "1", 1, freedom, Scope::run, ""};
}

/// JCGM 100:2008, H.1, in nanometres: comparison, difference of lengths, and the products of length with the
/// differences of expansion (1e-6/K over root 3, at 0.1 K) and temperature (0.05 K over root 3).
std::vector<Contribution> end_gauge() {
    const double length_nm = 50000623, root_3 = std::numbers::sqrt3;
    return {part(25, 18),
            part(9.7, 25.6),
            {"expansion", 1e-6 / root_3, "1/K", length_nm * 0.1, 50, Scope::run, ""},
            {"temperature", 0.05 / root_3, "K", length_nm * 11.5e-6, 2, Scope::run, ""}};
}

/// Simultaneous observations of one quantity.
struct Observed {
    double mean = 0, u = 0;  // of the mean
    std::vector<double> deviations;

    explicit Observed(const std::vector<double>& values) {
        const double n = static_cast<double>(values.size());
        for (const double value : values) mean += value / n;
        double squares = 0;
        for (const double value : values) {
            deviations.push_back(value - mean);
            squares += deviations.back() * deviations.back();
        }
        u = std::sqrt(squares / (n * (n - 1)));
    }
};

double correlation(const Observed& a, const Observed& b) {
    double products = 0;
    for (std::size_t i = 0; i < a.deviations.size(); ++i) products += a.deviations[i] * b.deviations[i];
    const double n = static_cast<double>(a.deviations.size());
    return products / (n * (n - 1)) / (a.u * b.u);
}

/// JCGM 100:2008, H.2: resistance, reactance and impedance from voltage, current and phase, which are
/// correlated.
struct Impedance {
    using Derivatives = std::array<double, 3>;  // by V, I, phase

    Observed V = Observed({5.007, 4.994, 5.005, 4.990, 4.999});
    Observed I = Observed({19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3});
    Observed phase = Observed({1.0456, 1.0438, 1.0468, 1.0428, 1.0433});
    double Z = V.mean / I.mean, R = Z * std::cos(phase.mean), X = Z * std::sin(phase.mean);
    Derivatives of_Z{1 / I.mean, -Z / I.mean, 0};
    Derivatives of_R{std::cos(phase.mean) / I.mean, -R / I.mean, -X};
    Derivatives of_X{std::sin(phase.mean) / I.mean, -X / I.mean, R};

    [[nodiscard]] double u(const Derivatives& d) const {
        const std::vector<Contribution> budget{
            {"voltage", V.u, "V", d[0], {}, Scope::run, "current", correlation(V, I)},
            {"current", I.u, "A", d[1], {}, Scope::run, "phase", correlation(I, phase)},
            {"phase", phase.u, "rad", d[2], {}, Scope::run, "voltage", correlation(V, phase)}};
        return decay::combined_u_s(budget);
    }
    /// Of two results, from the uncertainty of their sum, whose derivatives are the sums of theirs.
    [[nodiscard]] double r(const Derivatives& a, const Derivatives& b) const {
        const double sum = u({a[0] + b[0], a[1] + b[1], a[2] + b[2]});
        return (sum * sum - u(a) * u(a) - u(b) * u(b)) / (2 * u(a) * u(b));
    }
};

void add_budgets(std::vector<Check>& checks) {
    checks.push_back({subject, "effective degrees of freedom of 0.57 (9) and 0.25 (infinitely many)",
                      "JCGM 100:2008, G.4.1; example from a public test set of another library", "12.8", "",
                      [] {
                          const std::vector<Contribution> budget{part(0.57, 9), part(0.25, {})};
                          return decay::effective_degrees_of_freedom(budget).value();
                      }});
    checks.push_back({subject, "end gauge: combined standard uncertainty", "JCGM 100:2008, H.1", "32", "nm",
                      [] { return decay::combined_u_s(end_gauge()); }});
    checks.push_back({subject, "end gauge: effective degrees of freedom", "JCGM 100:2008, H.1", "16", "",
                      [] { return std::floor(decay::effective_degrees_of_freedom(end_gauge()).value()); },
                      difference(0, "the example cuts to a whole number, and so does this check")});

    const auto of = once([] { return Impedance(); });
    const auto entry = [&](const char* name, const char* printed, const char* unit,
                           std::function<double(const Impedance&)> read, Allowed allowed = {}) {
        checks.push_back({subject, std::string("impedance: ") + name, "JCGM 100:2008, H.2", printed, unit,
                          [=] { return read(of()); }, std::move(allowed)});
    };
    entry("u of the voltage", "3.2e-3", "V", [](const Impedance& z) { return z.V.u; });
    entry("u of the current", "9.5e-6", "A", [](const Impedance& z) { return z.I.u; });
    entry("u of the phase", "7.5e-4", "rad", [](const Impedance& z) { return z.phase.u; });
    entry("r of voltage and current", "-0.36", "", [](const Impedance& z) { return correlation(z.V, z.I); });
    entry("r of voltage and phase", "0.86", "", [](const Impedance& z) { return correlation(z.V, z.phase); });
    entry("r of current and phase", "-0.65", "",
          [](const Impedance& z) { return correlation(z.I, z.phase); });
    entry("resistance", "127.732", "ohm", [](const Impedance& z) { return z.R; });
    entry("reactance", "219.847", "ohm", [](const Impedance& z) { return z.X; });
    entry("impedance", "254.260", "ohm", [](const Impedance& z) { return z.Z; });
    entry("u of the resistance", "0.071", "ohm", [](const Impedance& z) { return z.u(z.of_R); });
    entry(
        "u of the reactance", "0.295", "ohm", [](const Impedance& z) { return z.u(z.of_X); },
        last_digits(1, "printed cut, not rounded: 0.2956"));
    entry("u of the impedance", "0.236", "ohm", [](const Impedance& z) { return z.u(z.of_Z); });
    const char* memory = "JCGM 100:2008, H.2 (third digit from memory)";
    const auto remembered = [&](const char* name, const char* printed,
                                std::function<double(const Impedance&)> read) {
        entry(name, printed, "", std::move(read));
        checks.back().source = memory;
    };
    remembered("r of resistance and reactance", "-0.588",
               [](const Impedance& z) { return z.r(z.of_R, z.of_X); });
    remembered("r of resistance and impedance", "-0.485",
               [](const Impedance& z) { return z.r(z.of_R, z.of_Z); });
    remembered("r of reactance and impedance", "0.993",
               [](const Impedance& z) { return z.r(z.of_X, z.of_Z); });
}

/// So many that chance stays well inside the printed digits.
stats::MonteCarloResult drawn(const stats::Model& model, bool shortest = false) {
    stats::MonteCarloOptions options;
    options.least_trials = options.most_trials = 4'000'000;
    options.threads = 2;
    options.shortest = shortest;
    return stats::monte_carlo(model, options);
}

void add_draws(std::vector<Check>& checks) {
    const auto add = [&](const std::string& name, const char* source,
                         const std::function<const stats::MonteCarloResult&()>& result, const char* of,
                         const char* printed, std::function<double(const stats::MonteCarloResult&)> read,
                         Allowed allowed = {}) {
        checks.push_back({subject, name + ": " + of, source, printed, "", [=] { return read(result()); },
                          std::move(allowed)});
    };
    const auto chance = [](double units) {
        return last_digits(units, "rounding, and the chance of four million draws");
    };
    using Drawn = const stats::MonteCarloResult&;

    const auto normal = once([] {
        return drawn([](std::uint64_t first, std::span<double> values) {
            for (std::uint64_t input = 0; input < 4; ++input) lanes::add_normal({1, input}, first, 1, values);
        });
    });
    const std::string normals = "sum of four normal quantities, by drawing";
    const char* normal_source = "JCGM 101:2008, 9.2.2";
    add(normals, normal_source, normal, "mean", "0.00", [](Drawn d) { return d.mean; });
    add(normals, normal_source, normal, "u", "2.00", [](Drawn d) { return d.u; });
    add(
        normals, normal_source, normal, "low end, 95 %", "-3.92", [](Drawn d) { return d.symmetric.low; },
        chance(1));
    add(
        normals, normal_source, normal, "high end, 95 %", "3.92", [](Drawn d) { return d.symmetric.high; },
        chance(1));

    const auto even = once([] {
        return drawn([](std::uint64_t first, std::span<double> values) {
            for (double& value : values) value = -4 * std::numbers::sqrt3;
            for (std::uint64_t input = 0; input < 4; ++input)
                lanes::add_uniform({2, input}, first, 2 * std::numbers::sqrt3, values);
        });
    });
    const std::string rectangular = "sum of four rectangular quantities, by drawing";
    const char* even_source = "JCGM 101:2008, 9.2.3";
    add(rectangular, even_source, even, "u", "2.00", [](Drawn d) { return d.u; });
    add(rectangular, even_source, even, "low end, 95 %", "-3.88", [](Drawn d) { return d.symmetric.low; });
    add(rectangular, even_source, even, "high end, 95 %", "3.88", [](Drawn d) { return d.symmetric.high; });
    add(
        rectangular, "exact: 2 sqrt(3) (2 - (3/5)^(1/4))", even, "high end, 95 %", "3.8794",
        [](Drawn d) { return d.symmetric.high; }, difference(0.008, "four standard deviations of the end"));

    const auto log = once([] {
        return drawn(
            [](std::uint64_t first, std::span<double> values) {
                lanes::add_uniform({6, 0}, first, 1.0, values);
                for (double& value : values) value = std::log(0.1 + value);
            },
            true);
    });
    const std::string logarithm = "ln x, x uniform from 0.1 to 1.1, by drawing";
    const char* log_source = "NPL's worked example, as a public test set of another library repeats it";
    add(
        logarithm, log_source, log, "mean", "-0.665", [](Drawn d) { return d.mean; }, chance(1));
    add(
        logarithm, log_source, log, "u", "0.606", [](Drawn d) { return d.u; }, chance(1));
    add(
        logarithm, log_source, log, "low end of the shortest 95 %", "-1.895",
        [](Drawn d) { return d.shortest.value().low; },
        difference(0.003, "the exact end is ln 0.15 = -1.897"));
    add(logarithm, log_source, log, "high end of the shortest 95 %", "0.095",
        [](Drawn d) { return d.shortest.value().high; });
}

}  // namespace

std::vector<Check> uncertainty_checks() {
    std::vector<Check> checks;
    add_budgets(checks);
    add_draws(checks);
    return checks;
}

}  // namespace ebbtide::validation
