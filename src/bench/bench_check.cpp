#include "bench/bench_check.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "basis/number_text.hpp"
#include "plan/flag.hpp"

namespace ebbtide::bench {
namespace {

using plan::Polarity;
constexpr Polarity both[] = {Polarity::positive, Polarity::negative};

const CheckReading* find(const std::vector<CheckReading>& readings, Mounted mounted, Polarity polarity,
                         bool second = false) {
    const auto found = std::ranges::find_if(readings, [&](const CheckReading& one) {
        return one.step.mounted == mounted && one.step.polarity == polarity &&
               one.step.second_voltage == second;
    });
    return found == readings.end() ? nullptr : &*found;
}

/// Sensor over electrode; nothing where the electrode was not up.
std::optional<double> ratio_of(const CheckReading* reading) {
    if (!reading || !(reading->electrode_V > 0)) return {};
    return reading->held_V / reading->electrode_V;
}

std::optional<double> largest_zero_V(const std::vector<CheckReading>& readings) {
    if (readings.empty()) return {};
    return std::ranges::max_element(readings, {},
                                    [](const CheckReading& one) { return std::abs(one.zero_V); })
        ->zero_V;
}

}  // namespace

std::string_view words_of(Mounted mounted) {
    switch (mounted) {
        case Mounted::plate:
            return "Clamp the metal plate across both clamps. Close the door.";
        case Mounted::nothing:
            return "Take everything out: the clamps stay empty. Close the door.";
        case Mounted::standard:
            return "Mount the RC check standard, discharged with the earth stick. Close the door.";
        case Mounted::blank:
            return "Mount the insulating blank, neutralised. Close the door.";
    }
    return "";
}

std::vector<CheckStep> steps_of(const plan::CheckLimits& limits) {
    std::vector<CheckStep> steps;
    const auto add = [&](Mounted mounted, bool second) {
        for (const Polarity polarity : both) {
            CheckStep step{mounted, polarity, second, false, {}};
            step.mount = steps.empty() || steps.back().mounted != mounted;
            step.aim.polarity = polarity;
            step.aim.voltage_V = second ? limits.second_voltage_V : limits.voltage_V;
            step.aim.hold_s = step.aim.longest_charge_s = limits.hold_s;
            // The zero is a figure of the check: it is not to stop it.
            if (mounted == Mounted::standard) {
                const plan::Level& level = limits.standard_level;
                if (level.kind == plan::Level::Kind::fraction)
                    step.aim.end_fraction = level.value;
                else
                    step.aim.end_fraction = 0, step.aim.end_V = level.value;
            } else {
                step.aim.watch_s = 1;
            }
            steps.push_back(step);
        }
    };
    add(Mounted::plate, false);
    add(Mounted::plate, true);
    add(Mounted::nothing, false);
    add(Mounted::standard, false);
    add(Mounted::blank, false);
    return steps;
}

std::string CheckFigure::words() const {
    const std::string sign = polarity ? std::string(" ") + plan::sign_of(*polarity) : "";
    const std::string after = unit.empty() ? "" : " " + unit;
    return fmt::format("{}{}: {}, from {} to {}{}", plan::in_words(name), sign,
                       value ? significant_text(*value, 4) + after : "not taken", significant_text(least, 4),
                       significant_text(most, 4), after);
}

std::vector<CheckFigure> figures_of(const std::vector<CheckReading>& readings, const plan::Bench& bench,
                                    const plan::CheckLimits& limits) {
    std::vector<CheckFigure> figures;
    figures.push_back({"zero", {}, "V", largest_zero_V(readings), -limits.zero_limit_V, limits.zero_limit_V});
    for (const Polarity polarity : both) {
        const auto first = ratio_of(find(readings, Mounted::plate, polarity));
        const auto second = ratio_of(find(readings, Mounted::plate, polarity, true));
        figures.push_back(
            {"span", polarity, "", first, 1 - limits.span_tolerance, 1 + limits.span_tolerance});
        figures.push_back({"linearity", polarity, "",
                           first && second && *first > 0 ? std::optional(*second / *first) : std::nullopt,
                           1 - limits.linearity_tolerance, 1 + limits.linearity_tolerance});
    }
    std::optional<double> decays[2];
    for (const Polarity polarity : both) {
        const double induced = bench.induced_fraction(polarity == Polarity::positive).value_or(0);
        figures.push_back({"induced_fraction", polarity, "",
                           ratio_of(find(readings, Mounted::nothing, polarity)),
                           induced - limits.induced_tolerance, induced + limits.induced_tolerance});
        const CheckReading* standard = find(readings, Mounted::standard, polarity);
        auto& decay_s = decays[polarity == Polarity::positive ? 0 : 1];
        if (standard) decay_s = standard->decay_s;
        figures.push_back({"standard_decay", polarity, "s", decay_s,
                           limits.standard_decay_s * (1 - limits.standard_tolerance),
                           limits.standard_decay_s * (1 + limits.standard_tolerance)});
        auto accepted = ratio_of(find(readings, Mounted::blank, polarity));
        if (accepted) *accepted -= induced;
        // A blank that reads less than the empty fixture shields the sensor a little: that is no leak.
        figures.push_back({"blank_accepted", polarity, "", accepted, -1, limits.blank_accepted_most});
    }
    figures.push_back(
        {"standard_polarity",
         {},
         "",
         decays[0] && decays[1] && *decays[0] > 0 ? std::optional(*decays[1] / *decays[0]) : std::nullopt,
         1 - limits.polarity_tolerance,
         1 + limits.polarity_tolerance});
    return figures;
}

}  // namespace ebbtide::bench
