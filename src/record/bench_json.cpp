// Benches as JSON, as understood from their files.

#include "record/json.hpp"

namespace ebbtide::record {
namespace {

using nlohmann::json;

json json_of(const plan::VoltageScale& scale) {
    return {{"gain_positive", scale.gain_positive},
            {"gain_negative", scale.gain_negative},
            {"offset", scale.offset},
            {"full_scale_V", or_null(scale.full_scale_V)},
            {"u_gain", scale.u_gain}};
}

json json_of(const plan::DriveLimits& limits) {
    return {{"near_zero_V", limits.near_zero_V},
            {"settle_tolerance", limits.settle_tolerance},
            {"settle_s", limits.settle_s},
            {"longest_rise_s", limits.longest_rise_s},
            {"longest_charge_s", limits.longest_charge_s},
            {"earth_within_s", limits.earth_within_s},
            {"longest_fall_s", limits.longest_fall_s},
            {"rest_s", limits.rest_s},
            {"unattended_replicates", limits.unattended_replicates},
            {"hold_s", limits.hold_s},
            {"wait_s", limits.wait_s},
            {"residual_s", limits.residual_s},
            {"zero_s", limits.zero_s},
            {"prepare_within_s", limits.prepare_within_s},
            {"silent_after_s", limits.silent_after_s},
            {"look_s", limits.look_s}};
}

json json_of(const plan::CheckLimits& limits) {
    return {{"valid_h", limits.valid_h},
            {"voltage_V", limits.voltage_V},
            {"second_voltage_V", limits.second_voltage_V},
            {"hold_s", limits.hold_s},
            {"zero_limit_V", limits.zero_limit_V},
            {"span_tolerance", limits.span_tolerance},
            {"linearity_tolerance", limits.linearity_tolerance},
            {"induced_tolerance", limits.induced_tolerance},
            {"standard_level", limits.standard_level.label()},
            {"standard_decay_s", limits.standard_decay_s},
            {"standard_tolerance", limits.standard_tolerance},
            {"polarity_tolerance", limits.polarity_tolerance},
            {"blank_accepted_most", limits.blank_accepted_most}};
}

json json_of(const plan::FixtureCalibration& one) {
    return {{"quantity", plan::name_of(one.quantity)},
            {"value", one.value},
            {"u", one.u},
            {"done", iso_text(one.done)},
            {"by", one.by},
            {"clamp_gap_mm", one.clamp_gap_mm},
            {"sensor_distance_mm", one.sensor_distance_mm},
            {"relative_humidity_percent", or_null(one.relative_humidity_percent)},
            {"temperature_C", or_null(one.temperature_C)}};
}

}  // namespace

json json_of(const plan::Bench& bench) {
    json calibrations = json::array();
    for (const plan::Calibration& calibration : bench.calibrations)
        calibrations.push_back({{"equipment", calibration.equipment},
                                {"certificate", calibration.certificate},
                                {"done", iso_text(calibration.done)},
                                {"due", iso_text(calibration.due)}});
    const plan::Sensor& sensor = bench.sensor;
    const plan::Fixture& fixture = bench.fixture;
    json out = {{"id", bench.id},
                {"revision", bench.revision},
                {"apparatus", plan::name_of(bench.apparatus)},
                {"sensor",
                 {{"name", sensor.name},
                  {"serial", sensor.serial},
                  {"scale", json_of(sensor.scale)},
                  {"lag_s", sensor.lag_s},
                  {"u_lag_s", sensor.u_lag_s},
                  {"u_linearity", sensor.u_linearity},
                  {"noise_V", or_null(sensor.noise_V)},
                  {"resolution_s", sensor.resolution_s}}},
                {"electrode", json_of(bench.electrode)},
                {"fixture",
                 {{"clamp_gap_mm", or_null(fixture.clamp_gap_mm)},
                  {"clamp_length_mm", or_null(fixture.clamp_length_mm)},
                  {"sensor_distance_mm", or_null(fixture.sensor_distance_mm)},
                  {"aperture_mm", or_null(fixture.aperture_mm)},
                  {"enclosure_behind_mm", or_null(fixture.enclosure_behind_mm)},
                  {"induced_fraction_positive", or_null(fixture.induced_fraction_positive)},
                  {"induced_fraction_negative", or_null(fixture.induced_fraction_negative)},
                  {"u_induced_fraction", fixture.u_induced_fraction},
                  {"u_clamping", fixture.u_clamping}}},
                {"recorder",
                 {{"u_time_base", bench.recorder.u_time_base},
                  {"u_channel_skew_s", bench.recorder.u_channel_skew_s}}},
                {"hygrometer",
                 {{"name", bench.hygrometer.name},
                  {"u_relative_humidity_percent", bench.hygrometer.u_relative_humidity_percent},
                  {"u_temperature_C", bench.hygrometer.u_temperature_C},
                  {"correlation", bench.hygrometer.correlation}}},
                {"channels",
                 {{"time", bench.channels.time},
                  {"specimen", bench.channels.specimen},
                  {"electrode", bench.channels.electrode},
                  {"marker", bench.channels.marker}}},
                {"sample_interval_s", or_null(bench.sample_interval_s)},
                {"lead_in_is_zero_state", bench.lead_in_is_zero_state},
                {"calibrations", std::move(calibrations)}};
    // Tables that a bench need not have: without them it reads as it did before there were any.
    if (bench.drive) out["drive"] = json_of(*bench.drive);
    if (bench.check) out["check"] = json_of(*bench.check);
    if (!bench.setup.empty()) out["setup"] = bench.setup;
    for (const plan::FixtureCalibration& one : bench.fixture_calibrations)
        out["fixture_calibrations"].push_back(json_of(one));
    return out;
}

}  // namespace ebbtide::record
