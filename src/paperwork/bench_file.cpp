// Benches. docs/formats/bench.md explains every key.
//
// What a figure's uncertainty rests on must be stated: an absent u would read as a perfect bench.

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "paperwork/bench_drive.hpp"
#include "paperwork/channel_table.hpp"
#include "paperwork/document.hpp"
#include "paperwork/heading.hpp"
#include "paperwork/paperwork.hpp"
#include "paperwork/ranges.hpp"
#include "paperwork/table_reader.hpp"

namespace ebbtide::paperwork {
namespace {

double gain(TableReader& table, std::string_view key) {
    const double value = table.number(key, {.least = -1e9, .most = 1e9});
    if (table.has(key) && value == 0)
        table.problem(key, fmt::format("'{}' is 0; it turns recorded units to volts", table.full_key(key)),
                      "");
    return value;
}

plan::VoltageScale scale(TableReader& table) {
    plan::VoltageScale out;
    if (table.has("gain_positive") || table.has("gain_negative")) {
        out.gain_positive = gain(table, "gain_positive");
        out.gain_negative = gain(table, "gain_negative");
        static_cast<void>(table.optional_number("gain", {.least = -1e9, .most = 1e9}));
        if (table.has("gain"))
            table.problem("gain",
                          fmt::format("'{}' stands beside a gain per polarity", table.full_key("gain")),
                          "Keep one of the two");
        if (out.gain_positive * out.gain_negative < 0)
            table.problem(
                "gain_negative",
                fmt::format("'{}' and gain_positive have different signs", table.full_key("gain_negative")),
                "The gain of a polarity keeps the sign that the recorder shows");
    } else {
        out.gain_positive = out.gain_negative = gain(table, "gain");
    }
    out.offset = table.number_or("offset", {.least = -1e9, .most = 1e9}, 0);
    out.full_scale_V = table.optional_number("full_scale_V", positive_V);
    out.u_gain = table.number("u_gain", relative);
    return out;
}

plan::Sensor sensor(TableReader table) {
    plan::Sensor out;
    out.name = table.text("name");
    out.serial = table.text_or("serial", "");
    out.scale = scale(table);
    out.lag_s = table.number("lag_s", not_negative_s);
    out.u_lag_s = table.number("u_lag_s", not_negative_s);
    out.u_linearity = table.number("u_linearity", relative);
    out.noise_V = table.optional_number("noise_V", positive_V);
    out.resolution_s = table.number("resolution_s", not_negative_s);
    return out;
}

plan::Fixture fixture(TableReader table) {
    plan::Fixture out;
    const Range fraction{.least = 0, .most = 1, .most_excluded = true};
    out.clamp_gap_mm = table.optional_number("clamp_gap_mm", millimetres);
    out.clamp_length_mm = table.optional_number("clamp_length_mm", millimetres);
    out.sensor_distance_mm = table.optional_number("sensor_distance_mm", millimetres);
    out.aperture_mm = table.optional_number("aperture_mm", millimetres);
    out.enclosure_behind_mm = table.optional_number("enclosure_behind_mm", millimetres);
    out.induced_fraction_positive = table.optional_number("induced_fraction_positive", fraction);
    out.induced_fraction_negative = table.optional_number("induced_fraction_negative", fraction);
    out.u_induced_fraction = out.induced_fraction_positive || out.induced_fraction_negative
                                 ? table.number("u_induced_fraction", relative)
                                 : table.number_or("u_induced_fraction", relative, 0);
    out.u_clamping = table.number_or("u_clamping", relative, 0);
    return out;
}

plan::Hygrometer hygrometer(TableReader table) {
    plan::Hygrometer out;
    out.name = table.text("name");
    out.u_relative_humidity_percent = table.number("u_relative_humidity_percent", humidity_percent);
    out.u_temperature_C = table.number("u_temperature_C", {.most = 100, .unit = "degrees Celsius"});
    out.correlation = table.number_or("correlation", {.least = -1, .most = 1}, 0);
    return out;
}

plan::Calibration calibration(TableReader& table) {
    plan::Calibration out;
    out.equipment = table.text("equipment");
    out.certificate = table.text("certificate");
    out.done = table.date("done");
    out.due = table.date("due");
    if (out.done.year != 0 && out.due.year != 0 && out.due < out.done)
        table.problem("due",
                      fmt::format("'calibration.due' is {}, before the calibration was done, {}",
                                  iso_text(out.due), iso_text(out.done)),
                      "");
    return out;
}

plan::FixtureCalibration fixture_calibration(TableReader& table) {
    using Quantity = plan::FixtureCalibration::Quantity;
    plan::FixtureCalibration out;
    const std::array<std::pair<std::string_view, Quantity>, 4> quantities{
        {{name_of(Quantity::capacitance), Quantity::capacitance},
         {name_of(Quantity::stray_capacitance), Quantity::stray_capacitance},
         {name_of(Quantity::induced_fraction_positive), Quantity::induced_fraction_positive},
         {name_of(Quantity::induced_fraction_negative), Quantity::induced_fraction_negative}}};
    if (const auto known = table.choice<Quantity>("quantity", quantities)) out.quantity = *known;
    const bool fraction = out.quantity == Quantity::induced_fraction_positive ||
                          out.quantity == Quantity::induced_fraction_negative;
    out.value = table.number("value", fraction ? Range{.least = 0, .most = 1, .most_excluded = true}
                                               : Range{.least = 0, .most = 1, .least_excluded = true});
    out.u = table.number("u", {.least = 0, .most = 1});
    out.done = table.date("done");
    out.by = table.text("by");
    out.clamp_gap_mm = table.number("clamp_gap_mm", millimetres);
    out.sensor_distance_mm = table.number("sensor_distance_mm", millimetres);
    out.relative_humidity_percent = table.optional_number("relative_humidity_percent", humidity_percent);
    out.temperature_C = table.optional_number("temperature_C", temperature_C);
    return out;
}

/// An induced fraction that was calibrated stands for one that [fixture] does not state.
void take_induced_fractions(plan::Bench& bench) {
    using Quantity = plan::FixtureCalibration::Quantity;
    const auto take = [&](std::optional<double>& into, Quantity quantity) {
        const plan::FixtureCalibration* found = bench.calibration_of(quantity);
        if (into || found == nullptr) return;
        into = found->value;
        bench.fixture.u_induced_fraction = std::max(bench.fixture.u_induced_fraction, found->u);
    };
    take(bench.fixture.induced_fraction_positive, Quantity::induced_fraction_positive);
    take(bench.fixture.induced_fraction_negative, Quantity::induced_fraction_negative);
}

plan::Bench bench(TableReader& top, const Node&) {
    plan::Bench out;
    out.id = top.id("id");
    out.revision = top.id("revision");
    out.apparatus = read_apparatus(top);
    out.sensor = sensor(top.table("sensor"));
    {
        TableReader electrode = top.table("electrode");
        out.electrode = scale(electrode);
    }
    out.fixture = fixture(top.table("fixture"));
    {
        TableReader recorder = top.table("recorder");
        out.recorder.u_time_base = recorder.number("u_time_base", relative);
        out.recorder.u_channel_skew_s = recorder.number("u_channel_skew_s", not_negative_s);
        out.sample_interval_s = recorder.optional_number("sample_interval_s", positive_s);
        out.lead_in_is_zero_state = recorder.truth_or("lead_in_is_zero_state", false);
    }
    out.hygrometer = hygrometer(top.table("hygrometer"));
    out.channels = channel_names(top);
    for (TableReader& table : top.tables_or_none("calibration"))
        out.calibrations.push_back(calibration(table));
    for (TableReader& table : top.tables_or_none("fixture_calibration"))
        out.fixture_calibrations.push_back(fixture_calibration(table));
    take_induced_fractions(out);
    read_driving(top, out);
    return out;
}

}  // namespace

Result<plan::Bench> parse_bench(std::string_view toml, const std::string& name) {
    return read_document<plan::Bench>(toml, name, "bench", bench);
}

}  // namespace ebbtide::paperwork
