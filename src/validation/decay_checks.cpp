#include <cmath>
#include <numbers>
#include <stdexcept>

#include "validation/checks.hpp"
#include "validation/known_fall.hpp"

namespace ebbtide::validation {
namespace {

using Fall = std::function<double(double)>;

const char* const subject = "Decay times";

double decay_s(const decay::Figures& figures, std::size_t level) {
    const decay::LevelFigure& figure = figures.levels.at(level);
    if (!figure.decay_s) throw std::runtime_error(figure.reason);
    return *figure.decay_s;
}

double exponential(double t) {
    return std::exp(-t);
}

constexpr const char* half_sample =
    "the release lies half-way between samples 0.0005 s apart, and is found to a tenth of that";

using Figures = std::function<const decay::Figures&()>;

/// A fall and its printed times, a level each.
struct KnownTimes {
    std::string name, source;
    Figures figures;
    std::vector<std::pair<std::string, std::string>> printed_at;  ///< level, time: the levels of `figures`
    std::string unit = "s";
    Allowed allowed = {};
    double per_second = 1;  ///< what a second counts in the unit
};

void add(std::vector<Check>& checks, const KnownTimes& known) {
    for (std::size_t i = 0; i < known.printed_at.size(); ++i) {
        const auto& [level, printed] = known.printed_at[i];
        checks.push_back(
            {subject, known.name + ": t(" + level + ")", known.source, printed, known.unit,
             [figures = known.figures, i, scale = known.per_second] { return decay_s(figures(), i) * scale; },
             known.allowed});
    }
}

void add_falls(std::vector<Check>& checks) {
    const Figures resistor = once([] {
        return figures_of({.fraction = exponential}, {"0.5", "1/e", "0.1", "0.01"});
    });
    add(checks, {"exponential, T = 1 s",
                 "t(p) = T ln(1/p): any text on circuits of resistor and capacitor",
                 resistor,
                 {{"50 %", "0.693147"}, {"1/e", "1.000000"}, {"10 %", "2.302585"}, {"1 %", "4.605170"}},
                 "s",
                 difference(5e-5, half_sample)});
    // A zero error dz moves the crossing by (1 - p) dz over the slope p V0 / T there.
    checks.push_back({subject, "the same: what 1 V of zero error does to t(10 %) at V0 = 5000 V",
                      "T (1 - p) / (p V0), by hand", "0.00180", "s", [=] {
                          for (const decay::Contribution& part : resistor().levels.at(2).budget)
                              if (part.source == "zero") return std::abs(part.sensitivity);
                          throw std::runtime_error("no line of the budget is of the zero");
                      }});
    add(checks, {"second order, T = 1 s",
                 "1/(1 + t/T): 1, 9 and 99 T, by hand",
                 once([] {
                     return figures_of({.fraction = [](double t) { return 1 / (1 + t); },
                                        .record_s = 150,
                                        .samples_per_scale = 500},
                                       {"0.5", "0.1", "0.01"});
                 }),
                 {{"50 %", "1.00"}, {"10 %", "9.00"}, {"1 %", "99.0"}}});
    add(checks, {"stretched, T = 1 s, b = 0.5",
                 "T ln(1/p)^(1/b), worked out in R 4.2.2",
                 once([] {
                     return figures_of(
                         {.fraction = [](double t) { return std::exp(-std::sqrt(t)); }, .record_s = 40},
                         {"0.5", "0.1", "0.01"});
                 }),
                 {{"50 %", "0.480453"}, {"10 %", "5.301898"}, {"1 %", "21.207592"}},
                 "s",
                 difference(2e-4, half_sample)});
    // The Fourier number is t / (R_s c (L/2)^2), and T1 = R_s c L^2 / pi^2.
    add(checks,
        {"middle of a sheet close to an earthed surface",
         "plane wall cooled from both sides, Bi to infinity (handbooks of heat transfer): its Fourier "
         "number",
         once([] {
             return figures_of({.fraction = plane_wall_centre}, {"0.5", "1/e", "0.1", "0.01"});
         }),
         {{"50 %", "0.37875"}, {"1/e", "0.50318"}, {"10 %", "1.03110"}, {"1 %", "1.96431"}},
         "",
         last_digits(2, half_sample),
         4 / (std::numbers::pi * std::numbers::pi)});
}

void add_apparatus(std::vector<Check>& checks) {
    const auto late = once([] { return figures_of({.fraction = lagged(0.3)}, {"0.5", "0.1"}); });
    const char* lag_source = "response of a first-order sensor to an exponential, worked out in R 4.2.2";
    checks.push_back({subject, "sensor lag of 0.3 T: how late t(50 %) is", lag_source, "0.32863", "T",
                      [=] { return decay_s(late(), 0) - std::log(2.0); }, last_digits(6, half_sample)});
    checks.push_back({subject, "sensor lag of 0.3 T: how late t(10 %) is", lag_source, "0.35607", "T",
                      [=] { return decay_s(late(), 1) - std::log(10.0); }, last_digits(6, half_sample)});
    checks.push_back(
        {subject, "sensor lag of 0.1 T, stated for the bench: t(10 %)", "T ln(1/p) when the lag is taken off",
         "2.302585", "T",
         [] {
             plan::Bench bench;
             bench.sensor.lag_s = 0.1;
             return decay_s(figures_of({.fraction = lagged(0.1)}, {"0.1"}, bench), 0);
         },
         difference(
             0.006,
             "the lag is taken off as s: -T ln(1 - s/T) - s = 0.00536 T is left, and is in the budget")});
    checks.push_back({subject, "clamps earthed through 1 Gohm and 220 pF: mean delay of their fall",
                      "R times C", "0.22", "s", [] {
                          const auto figures =
                              figures_of({.fraction = [](double t) { return std::exp(-t / 3); },
                                          .scale_s = 3,
                                          .record_s = 15,
                                          .electrode_fall_s = 0.22},
                                         {"0.1"});
                          return figures.release_delay_s.value();
                      }});
    // 100 pF and 3 pF of stray capacitance to earth, 2 pF to the clamps, 1 Mohm: T = 105 us.
    const auto standard = once([] {
        return figures_of({.fraction = [](double t) { return (1 - 2.0 / 105) * std::exp(-t / 105e-6); },
                           .scale_s = 105e-6,
                           .record_s = 600e-6},
                          {"0.1"});
    });
    checks.push_back({subject, "check standard of 1 Mohm, 103 pF to earth, 2 pF to the clamps: prompt drop",
                      "capacitive divider: 2/105, by hand", "0.0190", "",
                      [=] { return standard().prompt_drop.value(); },
                      difference(1e-3, "within the sample of the drop the fall goes on")});
    checks.push_back({subject, "the same: t(10 %)", "R C ln((1 - 2/105)/p), by hand", "239.752e-6", "s",
                      [=] { return decay_s(standard(), 0); }, difference(5e-9, half_sample)});
    const auto charged = once([] {
        plan::Bench bench;
        bench.fixture.induced_fraction_positive = 0.11;
        return figures_of({.fraction = [](double t) { return 0.89 * std::exp(-t); }}, {"0.1"}, bench);
    });
    checks.push_back({subject, "sheet seen through 11 % of induced voltage: accepted charge",
                      "superposition: 1 less the induced fraction", "0.890", "",
                      [=] { return charged().accepted_charge.value(); },
                      last_digits(1, "within the sample of the drop the fall goes on")});
    checks.push_back({subject, "insulator that took no charge, 11 % induced: flag",
                      "superposition: what it shows is the clamps' voltage", "induced_not_charged", "", [] {
                          plan::Bench bench;
                          bench.fixture.induced_fraction_positive = 0.11;
                          const auto figures = figures_of(
                              {.fraction = [](double) { return 0.0; }, .record_s = 3, .initial_V = 550},
                              {"0.1"}, bench);
                          for (const plan::Flag& flag : figures.flags)
                              if (flag.code == plan::FlagCode::induced_not_charged)
                                  return std::string(plan::facts(flag.code).name);
                          return std::string("no such flag");
                      }});
    checks.push_back(
        {subject, "sensor lag of 1.5 T: t(10 %)",
         "no decay time can be told from a sensor slower than the decay", "below_resolution", "", [] {
             plan::Bench bench;
             bench.sensor.lag_s = 1.5;
             const auto figures = figures_of({.fraction = lagged(1.5), .record_s = 20}, {"0.1"}, bench);
             return std::string(decay::name_of(figures.levels.front().status));
         }});
}

}  // namespace

std::vector<Check> decay_checks() {
    std::vector<Check> checks;
    add_falls(checks);
    add_apparatus(checks);
    return checks;
}

}  // namespace ebbtide::validation
