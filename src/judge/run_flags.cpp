#include "judge/run_flags.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "basis/number_text.hpp"

namespace ebbtide::judge {
namespace {

using plan::FlagCode;

std::string with_unit(double value, const char* unit) {
    return significant_text(value, 4) + " " + unit;
}

bool outside(double value, const plan::Tolerance& tolerance) {
    return std::abs(value - tolerance.nominal) > tolerance.plus_minus * (1 + 1e-9);
}

std::string tolerance_text(const plan::Tolerance& tolerance, const char* unit) {
    return fmt::format("{} ± {} {}", shortest_text(tolerance.nominal), shortest_text(tolerance.plus_minus),
                       unit);
}

/// Without an electrode voltage the method's own stands for it: a specimen that took no charge must not pass
/// because less was recorded.
std::optional<double> fraction_of_nominal(std::vector<plan::Flag>& flags, const decay::Figures& figures,
                                          const plan::Charging& charging,
                                          const std::optional<plan::Bench>& bench) {
    if (figures.electrode_V || !charging.voltage_V || !figures.held_V) return {};
    const double nominal_V = charging.voltage_V->nominal;
    flags.emplace_back(FlagCode::electrode_unseen,
                       fmt::format("No electrode voltage recorded, {} taken.", with_unit(nominal_V, "V")));
    const double fraction = *figures.held_V / nominal_V;
    const auto induced =
        bench ? bench->induced_fraction(figures.polarity == plan::Polarity::positive) : std::nullopt;
    if (induced && fraction - *induced < 0.5 * fraction)
        flags.emplace_back(FlagCode::induced_not_charged,
                           fmt::format("Held {} of the {} asked, that is {} %, of which {} % is induced.",
                                       with_unit(*figures.held_V, "V"), with_unit(nominal_V, "V"),
                                       fixed_text(100 * fraction, 1), fixed_text(100 * *induced, 1)));
    return fraction;
}

void charging_flags(std::vector<plan::Flag>& flags, const decay::Figures& figures,
                    const plan::Charging& charging, const std::optional<plan::Bench>& bench) {
    const auto held_V = figures.held_V ? figures.held_V : figures.initial_voltage_V;
    if (charging.minimum_initial_V && held_V && *held_V < *charging.minimum_initial_V)
        flags.emplace_back(FlagCode::charge_not_accepted,
                           fmt::format("Initial voltage {}, at least {} asked.", with_unit(*held_V, "V"),
                                       with_unit(*charging.minimum_initial_V, "V")));
    const bool has_clamps = !bench || bench->apparatus == plan::Apparatus::clamp_discharge;
    auto accepted = figures.accepted_fraction;
    if (!accepted && has_clamps) accepted = fraction_of_nominal(flags, figures, charging, bench);
    if (charging.minimum_accepted_fraction && accepted && *accepted < *charging.minimum_accepted_fraction)
        flags.emplace_back(FlagCode::charge_not_accepted,
                           fmt::format("Accepted fraction {}, at least {} asked.", fixed_text(*accepted, 3),
                                       shortest_text(*charging.minimum_accepted_fraction)));
    if (charging.voltage_V && figures.electrode_V &&
        outside(std::abs(*figures.electrode_V), *charging.voltage_V))
        flags.emplace_back(FlagCode::charging_voltage_off,
                           fmt::format("Electrode at {}, {} asked.", with_unit(*figures.electrode_V, "V"),
                                       tolerance_text(*charging.voltage_V, "V")));
    // A tenth either way: the common practice of a person with a seconds counter; no source.
    if (charging.hold_s && figures.charging_s &&
        std::abs(*figures.charging_s - *charging.hold_s) > 0.1 * *charging.hold_s)
        flags.emplace_back(FlagCode::hold_differs,
                           fmt::format("Charged for {}, {} asked.", with_unit(*figures.charging_s, "s"),
                                       with_unit(*charging.hold_s, "s")));
}

void condition_flags(std::vector<plan::Flag>& flags, const plan::RunKey& key, const plan::Order& order,
                     const plan::Conditioning& asked) {
    const plan::TestConditions* conditions = order.condition(key.conditions);
    const bool times_conditioning = asked.at_least_h || asked.at_most_h;
    if (!asked.relative_humidity_percent && !asked.temperature_C && !times_conditioning) return;
    if (!conditions) {
        flags.emplace_back(FlagCode::conditions_unknown,
                           fmt::format("No conditions '{}' in the order.", key.conditions));
        return;
    }
    const auto check = [&](const std::optional<plan::Tolerance>& tolerance,
                           const std::optional<double>& value, const char* what, const char* unit) {
        if (!tolerance) return;
        if (!value)
            flags.emplace_back(FlagCode::conditions_unknown, fmt::format("The {} is not recorded.", what));
        else if (outside(*value, *tolerance))
            flags.emplace_back(FlagCode::conditions_outside,
                               fmt::format("The {} was {}, {} asked.", what, with_unit(*value, unit),
                                           tolerance_text(*tolerance, unit)));
    };
    check(asked.relative_humidity_percent, conditions->relative_humidity_percent, "relative humidity",
          "% RH");
    check(asked.temperature_C, conditions->temperature_C, "temperature", "°C");
    if (!times_conditioning) return;
    if (!conditions->conditioned_from || !conditions->conditioned_to) {
        flags.emplace_back(FlagCode::conditions_unknown, "The conditioning time is not recorded.");
        return;
    }
    const double hours = (*conditions->conditioned_to - *conditions->conditioned_from).seconds() / 3600;
    if (asked.at_least_h && hours < *asked.at_least_h)
        flags.emplace_back(FlagCode::conditioning_short,
                           fmt::format("Conditioned for {}, at least {} asked.", with_unit(hours, "h"),
                                       with_unit(*asked.at_least_h, "h")));
    if (asked.at_most_h && hours > *asked.at_most_h)
        flags.emplace_back(FlagCode::conditions_outside,
                           fmt::format("Conditioned for {}, at most {} asked.", with_unit(hours, "h"),
                                       with_unit(*asked.at_most_h, "h")));
}

}  // namespace

std::vector<plan::Flag> method_flags(const decay::Figures& figures, const plan::RunKey& key,
                                     const plan::Order& order, const plan::Method& method,
                                     const std::optional<plan::Bench>& bench) {
    std::vector<plan::Flag> flags;
    charging_flags(flags, figures, method.charging, bench);
    if (method.decay.residual_limit_V && figures.residual_V &&
        std::abs(*figures.residual_V) > *method.decay.residual_limit_V)
        flags.emplace_back(
            FlagCode::residual_high,
            fmt::format("Residual {}, at most {} allowed.", with_unit(*figures.residual_V, "V"),
                        with_unit(*method.decay.residual_limit_V, "V")));
    if (method.decay.zero_limit_V && std::abs(figures.zero_V) > *method.decay.zero_limit_V)
        flags.emplace_back(FlagCode::zero_outside_limit,
                           fmt::format("Zero {}, at most {} allowed.", with_unit(figures.zero_V, "V"),
                                       with_unit(*method.decay.zero_limit_V, "V")));
    if (figures.polarity != key.polarity)
        flags.emplace_back(FlagCode::polarity_differs,
                           fmt::format("Recorded {}, planned {}.", plan::sign_of(figures.polarity),
                                       plan::sign_of(key.polarity)));
    condition_flags(flags, key, order, method.conditioning);
    if (bench) {
        for (const plan::Calibration& calibration : bench->calibrations)
            if (calibration.due < order.tested_to)
                flags.emplace_back(FlagCode::calibration_expired,
                                   fmt::format("{}: certificate {} was due {}, tested to {}.",
                                               calibration.equipment, calibration.certificate,
                                               iso_text(calibration.due), iso_text(order.tested_to)));
    }
    return flags;
}

void apply_consequences(std::vector<plan::Flag>& flags, const plan::Method& method) {
    for (plan::Flag& flag : flags)
        if (const auto set = method.consequences.find(flag.code); set != method.consequences.end())
            flag.consequence = set->second;
}

void settle(JudgedRun& run, const plan::Method& method) {
    apply_consequences(run.flags, method);
    // A run that the plan does not name was chosen by nobody before its result was known.
    run.counts = run.figures.has_value() && !run.without_specimen &&
                 std::ranges::find(run.flags, FlagCode::run_unplanned, &plan::Flag::code) == run.flags.end();
    for (const plan::Flag& flag : run.flags) {
        if (flag.consequence == plan::Consequence::void_run) run.counts = false;
        if (flag.consequence == plan::Consequence::fail_specimen) run.fails = true;
    }
}

}  // namespace ebbtide::judge
