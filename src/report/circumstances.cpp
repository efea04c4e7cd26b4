#include <fmt/format.h>

#include "basis/number_text.hpp"
#include "report/chapters.hpp"
#include "report/words.hpp"

namespace ebbtide::report {
namespace {

std::string tolerance_text(const std::optional<plan::Tolerance>& tolerance, std::string_view unit) {
    if (!tolerance) return std::string(not_stated);
    return fmt::format("{} ± {} {}", shortest_text(tolerance->nominal), shortest_text(tolerance->plus_minus),
                       unit);
}

std::string measured_text(const std::optional<double>& value, std::string_view unit) {
    return value ? fmt::format("{} {}", shortest_text(*value), unit) : std::string("not recorded");
}

std::string hours_text(const plan::TestConditions& conditions) {
    if (!conditions.conditioned_from || !conditions.conditioned_to) return "not recorded";
    return fixed_text((*conditions.conditioned_to - *conditions.conditioned_from).seconds() / 3600, 1);
}

std::string conditioning_demand(const plan::Conditioning& conditioning) {
    if (!conditioning.relative_humidity_percent && !conditioning.temperature_C && !conditioning.at_least_h)
        return "The method asks for no conditions of the air.";
    std::string text = fmt::format("The method asks for relative humidity {} and temperature {}",
                                   tolerance_text(conditioning.relative_humidity_percent, "%"),
                                   tolerance_text(conditioning.temperature_C, "°C"));
    if (conditioning.at_least_h)
        text += fmt::format(", conditioned for at least {} h", shortest_text(*conditioning.at_least_h));
    if (conditioning.at_most_h)
        text += fmt::format(" and at most {} h", shortest_text(*conditioning.at_most_h));
    return text + ".";
}

std::string charging_demand(const plan::Charging& charging) {
    std::string text = charging.voltage_V ? fmt::format("Charging voltage asked for: {}",
                                                        tolerance_text(charging.voltage_V, "V"))
                                          : std::string("The method asks for no charging voltage");
    if (charging.hold_s) text += fmt::format("; charging time {} s", shortest_text(*charging.hold_s));
    if (charging.minimum_initial_V)
        text += fmt::format("; initial voltage at least {} V", shortest_text(*charging.minimum_initial_V));
    if (charging.minimum_accepted_fraction)
        text +=
            fmt::format("; accepted fraction at least {}", percent_text(*charging.minimum_accepted_fraction));
    return text + fmt::format("; polarities: {}.", charging.polarities);
}

/// From where to where a decay time counts, when it is not from the release of the clamps.
std::string clock_demand(const plan::Method& method) {
    std::string text;
    if (method.decay.clock == plan::DecayRules::Clock::field_step)
        text += " Decay times count from the step of the field electrode.";
    if (method.decay.from)
        text += fmt::format(" Decay times count from where the fall passes {}{}.", method.decay.from->label(),
                            method.decay.from->kind == plan::Level::Kind::fraction ? " of V0" : "");
    if (method.reference_run)
        text +=
            " V0 is what the fixture read without specimen, at the same polarity and under the same "
            "conditions.";
    return text;
}

std::string millimetres(const std::optional<double>& length_mm) {
    return length_mm ? shortest_text(*length_mm) + " mm" : std::string(not_stated);
}

std::string stated(double value, std::string_view unit) {
    return value == 0 ? std::string(not_stated) : fmt::format("{} {}", shortest_text(value), unit);
}

std::string seconds(double time_s) {
    return time_s == 0 ? std::string(not_stated) : prefixed_text(time_s, 2, "s");
}

std::string percent_stated(double fraction) {
    return fraction == 0 ? std::string(not_stated) : fmt::format("{:.3g} %", 100 * fraction);
}

std::string induced_text(const plan::Fixture& fixture) {
    const auto one = [](const std::optional<double>& fraction) {
        return fraction ? percent_text(*fraction) : std::string(not_stated);
    };
    return fmt::format("positive {}, negative {} (standard uncertainty {})",
                       one(fixture.induced_fraction_positive), one(fixture.induced_fraction_negative),
                       percent_stated(fixture.u_induced_fraction));
}

void add_bench(std::vector<Block>& blocks, const plan::Bench& bench, Date tested_to) {
    std::string sensor = or_not_stated(bench.sensor.name);
    if (!bench.sensor.serial.empty()) sensor += ", serial " + bench.sensor.serial;
    Facts facts;
    facts.rows = {
        {"Apparatus", std::string(plan::in_words(bench.apparatus)), ""},
        {"Bench", fmt::format("{}, revision {}", or_not_stated(bench.id), or_not_stated(bench.revision)), ""},
        {"Field sensor", sensor, ""},
        {"Sensor gain",
         fmt::format("positive {}, negative {}; relative standard uncertainty {}",
                     shortest_text(bench.sensor.scale.gain_positive),
                     shortest_text(bench.sensor.scale.gain_negative),
                     percent_stated(bench.sensor.scale.u_gain)),
         ""},
        {"Sensor lag",
         fmt::format("{}, standard uncertainty {}", seconds(bench.sensor.lag_s),
                     seconds(bench.sensor.u_lag_s)),
         ""},
        {"Linearity",
         fmt::format("{} between V0 and a tenth of it", percent_stated(bench.sensor.u_linearity)), ""},
        {"Resolution", fmt::format("{}, by stepping a metal plate", seconds(bench.sensor.resolution_s)), ""},
        {"Induced fraction", induced_text(bench.fixture), ""},
        {"Fixture",
         fmt::format("clamp gap {}; sensor distance {}; aperture {}; enclosure behind the specimen {}",
                     millimetres(bench.fixture.clamp_gap_mm), millimetres(bench.fixture.sensor_distance_mm),
                     millimetres(bench.fixture.aperture_mm), millimetres(bench.fixture.enclosure_behind_mm)),
         ""},
        {"Clamping",
         fmt::format("mounting anew moves decay times by {} (standard uncertainty)",
                     percent_stated(bench.fixture.u_clamping)),
         ""},
        {"Recorder",
         fmt::format("time base {}; skew between channels {}", percent_stated(bench.recorder.u_time_base),
                     seconds(bench.recorder.u_channel_skew_s)),
         ""},
        {"Hygrometer",
         fmt::format(
             "{}; standard uncertainty {} of relative humidity, {} of temperature{}",
             or_not_stated(bench.hygrometer.name), stated(bench.hygrometer.u_relative_humidity_percent, "%"),
             stated(bench.hygrometer.u_temperature_C, "°C"),
             bench.hygrometer.correlation == 0 ? ""
                                               : fmt::format("; their errors correlated by {}",
                                                             shortest_text(bench.hygrometer.correlation))),
         ""},
        {"Zero",
         bench.lead_in_is_zero_state ? "before charging, with the shutter closed: a proven zero state"
                                     : "no proven zero state is stated",
         ""}};
    blocks.emplace_back(std::move(facts));
    Table calibrations;
    calibrations.title = "Calibrations";
    calibrations.columns = {{"equipment"}, {"certificate"}, {"done"}, {"due"}};
    for (const plan::Calibration& calibration : bench.calibrations)
        calibrations.rows.push_back(
            {Cell{calibration.equipment, {}, false, true},
             Cell{or_not_stated(calibration.certificate), {}, false, false},
             Cell{iso_text(calibration.done), {}, false, false},
             Cell{iso_text(calibration.due) + (calibration.due < tested_to ? " (before the test)" : ""),
                  {},
                  false,
                  false}});
    if (calibrations.rows.empty())
        blocks.emplace_back(Paragraph{"No calibrations are stated.", Paragraph::Look::body, ""});
    else
        blocks.emplace_back(std::move(calibrations));
}

}  // namespace

void add_circumstances(Document& document, const ReportInput& input) {
    const record::OrderRecord& record = input.record;
    auto& blocks = document.blocks;
    blocks.emplace_back(Heading{"Conditions"});
    Table table;
    table.clause = "7.8.3.1 a";
    table.columns = {{"conditions"},          {"relative humidity", number},
                     {"temperature", number}, {"conditioned from", one_line},
                     {"to", one_line},        {"hours", number}};
    for (const plan::TestConditions& conditions : record.order.conditions)
        table.rows.push_back(
            {Cell{conditions.id, {}, false, true},
             Cell{measured_text(conditions.relative_humidity_percent, "%"), {}, false, false},
             Cell{measured_text(conditions.temperature_C, "°C"), {}, false, false},
             Cell{conditions.conditioned_from ? iso_text(*conditions.conditioned_from) : "not recorded",
                  {},
                  false,
                  false},
             Cell{conditions.conditioned_to ? iso_text(*conditions.conditioned_to) : "not recorded",
                  {},
                  false,
                  false},
             Cell{hours_text(conditions), {}, false, false}});
    if (table.rows.empty())
        blocks.emplace_back(
            Paragraph{"The conditions of the test are not recorded.", Paragraph::Look::body, "7.8.3.1 a"});
    else
        blocks.emplace_back(std::move(table));
    blocks.emplace_back(Paragraph{conditioning_demand(record.method.conditioning) + " " +
                                      charging_demand(record.method.charging) + clock_demand(record.method) +
                                      " All times are UTC.",
                                  Paragraph::Look::note, "7.8.3.1 a"});

    blocks.emplace_back(Heading{"Bench"});
    if (record.bench)
        add_bench(blocks, *record.bench, record.order.tested_to);
    else
        blocks.emplace_back(
            Paragraph{"No bench was stated: gain, lag, linearity and induced fraction of the equipment "
                      "are not considered in these figures.",
                      Paragraph::Look::body, ""});
}

}  // namespace ebbtide::report
