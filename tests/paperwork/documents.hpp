#pragma once
// Small valid documents of each kind, and ways to spoil them.

#include <gtest/gtest.h>

#include <algorithm>
#include <string>
#include <string_view>

#include "paperwork/paperwork.hpp"

namespace ebbtide::paperwork::documents {

inline const std::string method = R"(schema = "ebbtide.method/1"
id = "short"
edition = "2"
title = "A short method"
source = "house rule"
notice = "Replaces nothing"
apparatus = "clamp_discharge"

[conditioning]
relative_humidity_percent = { nominal = 12, plus_minus = 3 }
temperature_C = { nominal = 23, plus_minus = 2.5 }
at_least_h = 24
at_most_h = 48

[charging]
voltage_V = { nominal = 5000, plus_minus = 100 }
hold_s = 20
minimum_initial_V = 4000
minimum_accepted_fraction = 0.8
polarities = "both"

[initial_voltage]
basis = "hold_mean"
window_s = 0.5
guard_s = 0.05

[sensitivity]
humidity_percent_per_decade = 12
temperature_C_per_decade = 30
source = "from memory"

[limits]
residual_V = 50
zero_V = 25

[decay]
levels = ["50 %", 0.1, "500 V", 0]
zero_floor = "50 V"
extrapolation = true

[runs]
replicates = 3
faces = ["front"]
directions = ["machine", "cross"]

[consequences]
spikes = "void_run"

[sources]
charging.voltage_V = "house rule"
"decay.levels" = "from memory"
)";

inline const std::string specification = R"(schema = "ebbtide.specification/1"
id = "short"
edition = "2"
title = "A short specification"
source = "house rule"
notice = "Replaces nothing"
apparatus = "clamp_discharge"
remarks = ["One", "Two"]

[[demand]]
id = "d1"
[[demand.any_of]]
id = "r1"
clause = "house rule"
level = "10 %"
statistic = "mean"
group_by = ["specimen", "polarity"]
comparison = "<="
limit_s = 2
[[demand.any_of]]
id = "r2"
clause = "from memory"
level = "1/e"
statistic = "each_run"
comparison = "<"
limit_s = 0.5
)";

inline const std::string bench = R"(schema = "ebbtide.bench/1"
id = "b"
revision = "3"
apparatus = "clamp_discharge"

[sensor]
name = "sensor"
gain_positive = 1000
gain_negative = 1010
offset = 0.01
u_gain = 0.01
lag_s = 0.005
u_lag_s = 0.001
u_linearity = 0.004
resolution_s = 0.03

[electrode]
gain = 1000
u_gain = 0.005

[fixture]
induced_fraction_positive = 0.11
u_induced_fraction = 0.01
u_clamping = 0.02

[recorder]
u_time_base = 1e-4
u_channel_skew_s = 0

[hygrometer]
name = "hygrometer"
u_relative_humidity_percent = 0.8
u_temperature_C = 0.3
correlation = -0.5

[[calibration]]
equipment = "sensor"
certificate = "c1"
done = 2026-03-01
due = "2027-03-01"
)";

inline const std::string simulation = R"(schema = "ebbtide.simulation/1"
bench = "bench.toml"
seed = 3
rate_Hz = 250
lines = ["Laboratory: L"]

[backing]
capacitance_F_m2 = 1e-9

[sensor]
lag_s = 0.004
gain_error = 0.01

[electrode]
white_V = 2

[source]
rise_s = 0.05

[climate]
temperature_C = 22

[[specimen]]
id = "S1"
surface_resistivity_ohm_sq = 1e11
absorption = [{ capacitance_F_m2 = 1e-10, relaxation_s = 2 }]

[[specimen]]
id = "R1"
kind = "check_standard"
resistance_ohm = 1e9
capacitance_F = 1e-10

[run]
charge_s = 20

[[recording]]
file = "S1.csv"
runs = [{ specimen = "S1", face = "front" }, { voltage_V = -5000 }]
faults = [{ kind = "forgotten_resistor" }]

[[fault]]
kind = "readback_wrong"
output_on = 2
readback = "earth"
shows = true

[[fault]]
kind = "sensor_clips"
after_s = 3
for_s = 2
level_V = 4000

[[fault]]
kind = "source_sags"

[[fault]]
kind = "relay_bounces"

[[fault]]
kind = "sensor_drifts"
drift_V_per_s = 1

[[fault]]
kind = "slips_out"

[[fault]]
kind = "humidity_excursion"
relative_humidity_percent = 30

[[fault]]
kind = "wrong_check_standard"

[[fault]]
kind = "commands_late"
)";

inline const std::string order = R"(schema = "ebbtide.order/1"
id = "o1"
title = "An order"
revision = 1

[laboratory]
name = "Lab"
address = "Here"

[customer]
name = "Customer"
address = "There"

[method]
file = "method.toml"
edition = "1"

[specification]
file = "specification.toml"
edition = "1"

[decision_rule]
kind = "simple"
agreed = "both, 2026-01-02"

[dates]
tested_from = 2026-01-05
tested_to = 2026-01-06

[people]
tested_by = "T"

[[item]]
id = "I"
description = "film"
condition_on_receipt = "clean"
sensitivity = { humidity_percent_per_decade = 14, source = "maker's study" }

[[specimen]]
id = "S1"
item = "I"
state = "as received"

[[conditions]]
id = "dry"
relative_humidity_percent = 12
temperature_C = 23
conditioned_from = 2026-01-04T08:00:00+01:00
conditioned_to = "2026-01-05T08:30:00Z"

[[recording]]
file = "a.csv"
runs = [
  { specimen = "S1", face = "front", conditions = "dry", polarity = "+", replicate = 1 },
  { specimen = "S1", face = "front", conditions = "dry", polarity = "-" },
]
)";

/// The text with the first occurrence of `from` changed. `from` must be there.
inline std::string changed(std::string text, std::string_view from, std::string_view to) {
    const std::size_t at = text.find(from);
    if (at == std::string::npos) {
        ADD_FAILURE() << "not in the document: " << from;
        return text;
    }
    return text.replace(at, from.size(), to);
}

/// The line on which a text begins, from 1.
inline std::string line_of(const std::string& text, std::string_view part) {
    const auto at = static_cast<std::ptrdiff_t>(text.find(part));
    return std::to_string(1 + std::count(text.begin(), text.begin() + at, '\n'));
}

template <class Value>
::testing::AssertionResult refused(const Result<Value>& result, std::string_view part) {
    if (result.ok()) return ::testing::AssertionFailure() << "was taken";
    const std::string text = result.error().text();
    if (text.find(part) != std::string::npos) return ::testing::AssertionSuccess();
    return ::testing::AssertionFailure() << "'" << part << "' is not in: " << text;
}

}  // namespace ebbtide::paperwork::documents
