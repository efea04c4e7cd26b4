#pragma once
// The equipment as configured. A change of the fixture voids span and capacitance: it is a new revision.

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "basis/instant.hpp"
#include "plan/apparatus.hpp"
#include "plan/bench_check.hpp"
#include "plan/bench_drive.hpp"
#include "plan/channel_names.hpp"

namespace ebbtide::plan {

/// Volts at the object per recorded volt (or per recorded unit), after the offset is taken away.
struct VoltageScale {
    double gain_positive = 1;
    double gain_negative = 1;
    double offset = 0;                   ///< recorded units
    std::optional<double> full_scale_V;  ///< magnitude after the gain; samples at or beyond it are clipped
    double u_gain = 0;                   ///< relative standard uncertainty

    /// Recorded value to volts.
    [[nodiscard]] double volts(double recorded) const {
        const double above = recorded - offset;
        return above * (above >= 0 ? gain_positive : gain_negative);
    }
    /// The recorded value that reads as so many volts.
    [[nodiscard]] double recorded(double volts_V) const {
        const double above = volts_V / gain_positive;
        return offset + (above >= 0 ? above : volts_V / gain_negative);
    }
};

struct Sensor {
    std::string name;
    std::string serial;
    VoltageScale scale;
    double lag_s = 0;  ///< first-order time constant
    double u_lag_s = 0;
    double u_linearity = 0;         ///< relative, between V0 and a tenth of it
    std::optional<double> noise_V;  ///< standard deviation at rest
    double resolution_s =
        0;  ///< shortest decay time that the bench resolves, proven by stepping a metal plate
};

struct Fixture {
    std::optional<double> clamp_gap_mm;
    std::optional<double> sensor_distance_mm;
    std::optional<double> aperture_mm;
    std::optional<double> enclosure_behind_mm;
    std::optional<double> induced_fraction_positive;  ///< reading of the empty fixture over clamp voltage
    std::optional<double> induced_fraction_negative;
    double u_induced_fraction = 0;
    double u_clamping = 0;  ///< relative, of a decay time, from mounting the specimen anew
    std::optional<double> clamp_length_mm = {};  ///< of each clamp, along the specimen
};

struct Recorder {
    double u_time_base = 0;       ///< relative
    double u_channel_skew_s = 0;  ///< between electrode and specimen channel
};

struct Hygrometer {
    std::string name;
    double u_relative_humidity_percent = 0;
    double u_temperature_C = 0;
    double correlation = 0;  ///< of the errors of humidity and temperature, -1 to 1
};

struct Calibration {
    std::string equipment;
    std::string certificate;
    Date done;
    Date due;
};

/// What the fixture was found to do, for one gap and one sensor distance: a change of either voids it.
struct FixtureCalibration {
    enum class Quantity {
        capacitance,                ///< effective, of a sheet between the clamps: F/m2
        stray_capacitance,          ///< of the check standard's plate with the sensor in place: F
        induced_fraction_positive,  ///< reading of the empty fixture over clamp voltage
        induced_fraction_negative,
    };
    Quantity quantity = Quantity::capacitance;
    double value = 0;
    double u = 0;  ///< standard uncertainty, unit of the value
    Date done;
    std::string by;  ///< what it was found with
    double clamp_gap_mm = 0, sensor_distance_mm = 0;
    std::optional<double> relative_humidity_percent = {}, temperature_C = {};
};
[[nodiscard]] std::string_view name_of(FixtureCalibration::Quantity quantity);

struct Bench {
    std::string id;
    std::string revision;
    Apparatus apparatus = Apparatus::clamp_discharge;
    Sensor sensor;
    VoltageScale electrode;
    Fixture fixture;
    Recorder recorder;
    Hygrometer hygrometer;
    ChannelNames channels;
    std::optional<double> sample_interval_s;  ///< for recordings without a time column
    bool lead_in_is_zero_state = false;  ///< the stretch before charging is recorded with the shutter closed
    std::vector<Calibration> calibrations;
    std::optional<DriveLimits> drive = {};  ///< of a bench that takes commands
    std::optional<CheckLimits> check = {};  ///< of the bench check; absent: none is asked for
    std::vector<std::string> setup = {};    ///< the laboratory's own list before the first live run of a day
    std::vector<FixtureCalibration> fixture_calibrations = {};

    [[nodiscard]] std::optional<double> induced_fraction(bool positive) const {
        return positive ? fixture.induced_fraction_positive : fixture.induced_fraction_negative;
    }

    /// The latest calibration of the quantity that holds for the fixture as it stands; the first of one day.
    [[nodiscard]] const FixtureCalibration* calibration_of(FixtureCalibration::Quantity quantity) const;
};

}  // namespace ebbtide::plan
