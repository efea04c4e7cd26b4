#pragma once
// What a simulated bench is made of and what befalls it. The bench file says what the laboratory believes of
// its bench; a simulation says what is true, where that differs.

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "plan/sheet_map.hpp"

namespace ebbtide::plan {

/// Of a channel, all at rest and in volts at the object.
struct SimulatedNoise {
    double white_V = 0;  ///< standard deviations of each kind
    double band_V = 0;
    double band_s = 0.004;  ///< its correlation time
    double pink_V = 0;      ///< power as 1/f, from the sample rate down to 1/1000 Hz
    double hum_V = 0;       ///< amplitude of the mains in it
    double hum_Hz = 50;
    double hum_phase_rad = 0;
};

/// How a channel differs from what the bench file says of it.
struct SimulatedChannel {
    double gain_error = 0;  ///< relative: the channel shows so much more
    double offset_V = 0;
    double drift_V_per_h = 0;
    double skew_s = 0;  ///< its samples are so much older than their times say; at least 0
    double step = 0;    ///< of the recorded numbers; 0: none
    SimulatedNoise noise = {};
};

struct SimulatedSource {
    double rise_s = 0.03;   ///< time constant of source and cable, when the output comes on
    double fall_s = 0.002;  ///< and when the clamps are earthed
    double capacitance_F = 220e-12;
    double bleed_ohm = 1e9;      ///< through which the clamps lose their charge while they float
    double setting_sd_V = 0;     ///< of what it gives each time it comes on
    double relay_s = 0.004;      ///< from the command to the contact
    double relay_scatter_s = 0;  ///< added to it, evenly from 0
};

struct SimulatedClimate {
    double temperature_C = 23;
    double relative_humidity_percent = 12;
};

/// A sheet that has a backing instead of hanging free between sensor and wall.
struct SimulatedBacking {
    double capacitance_F_m2 = 0;
    std::optional<double> view_mm = {};  ///< none: as the bench's sensor distance and aperture give
    double induced_fraction = 0;
};

struct SimulatedAbsorption {
    double capacitance_F_m2 = 0, relaxation_s = 0;
};

/// What can be mounted.
struct SimulatedSpecimen {
    enum class Kind { sheet, plate, check_standard };
    std::string id;
    Kind kind = Kind::sheet;
    // sheet
    double surface_resistivity_ohm_sq = 0;  ///< and leak: with a map, what the map says
    double field_coefficient = 0;
    double leak_S_m2 = 0;
    std::optional<SheetMapFile> map = {};  ///< only of a linear sheet with a backing
    std::vector<SimulatedAbsorption> absorption;
    double contact_ohm_m = 0;  ///< at either clamp
    double residual_V = 0;     ///< that neutralising leaves, as the sensor reads it
    /// Rise of the humidity by which the resistivity falls to a tenth; none: it does not matter.
    std::optional<double> humidity_percent_per_decade;
    // check standard
    double resistance_ohm = 0, capacitance_F = 0, stray_F = 0, to_clamps_F = 0;
    double voltage_coefficient_per_V = 0;
};

enum class FaultKind {
    interlock_opens,
    source_sags,
    source_trips,
    relay_bounces,
    forgotten_resistor,
    sensor_clips,
    sensor_drifts,
    sensor_silent,
    no_charge_taken,
    slips_out,
    humidity_excursion,
    wrong_check_standard,
    readback_wrong,
    link_lost,
    commands_late,
};

/// What a readback is of, and what it shows instead of the truth.
enum class Readback { interlock, output, earth, shutter };

struct SimulatedFault {
    FaultKind kind = FaultKind::interlock_opens;
    /// The n-th time the output comes on, from 1, and then `after_s`; none: `after_s` counts from the opening
    /// of the bench.
    std::optional<int> output_on = {};
    double after_s = 0;
    std::optional<double> for_s = {};  ///< none: it stays
    double amount = 0;                 ///< what it measures is told beside each kind (facts())
    Readback readback = Readback::output;
    std::optional<bool> shows = {};  ///< none: unread
};

/// One charge, hold and release with what comes before and after, as a person would drive it.
struct SimulatedRun {
    std::string specimen;  ///< empty: the empty fixture
    std::string face;
    double voltage_V = 5000;
    double zero_s = 1;      ///< shutter closed, clamps earthed
    double residual_s = 0;  ///< shutter open, clamps still earthed
    double charge_s = 10;
    double decay_s = 3;
    double after_s = 0;   ///< shutter closed again
    bool earthed = true;  ///< false: the output goes off, but nobody earths the clamps
};

struct SimulatedRecording {
    std::string file;  ///< beside each other; its ending names the kind of file
    std::vector<SimulatedRun> runs;
    std::vector<SimulatedFault> faults;  ///< of this recording alone
};

struct Simulation {
    std::string bench;                                       ///< file beside it
    std::vector<std::pair<std::string, std::string>> lines;  ///< above the numbers: what, value
    std::uint64_t seed = 0;
    double rate_Hz = 250;
    std::optional<SimulatedBacking> backing;
    std::optional<double> sensor_lag_s;  ///< none: as the bench file says
    SimulatedChannel sensor, electrode;
    SimulatedSource source;
    SimulatedClimate climate;
    std::vector<SimulatedSpecimen> specimens;
    std::vector<SimulatedRecording> recordings;
    std::vector<SimulatedFault> faults;  ///< of every recording, and of a bench that is driven

    [[nodiscard]] const SimulatedSpecimen* specimen(std::string_view id) const;
};

struct FaultFacts {
    FaultKind kind;
    std::string_view name;
    std::string_view amount;  ///< key of its figure; empty: it has none
    std::string_view unit;
    double least = 0, most = 0;
    std::optional<double> usual;  ///< none: it must be given
    std::string_view meaning;     ///< for the person who reads what was done to a bench
};
[[nodiscard]] const FaultFacts& facts(FaultKind kind);
inline constexpr std::size_t fault_count = static_cast<std::size_t>(FaultKind::commands_late) + 1;
[[nodiscard]] std::string_view name_of(Readback readback);

}  // namespace ebbtide::plan
