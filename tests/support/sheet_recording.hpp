#pragma once
// Recordings of a sheet of known resistivity in a known fixture, as a bench would write them: the forward
// model, a first-order sensor, noise. And the bench file that goes with them.

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <cmath>
#include <random>
#include <string>
#include <vector>

#include "sheet/fall_law.hpp"

namespace ebbtide::testing_support {

struct SheetRecording {
    sheet::Fixture fixture = sheet::CrossSection{0.0762, 0.025, 0.025, 0.05};
    double resistivity_ohm_sq = 5e11;
    double clamp_V = 5000;  ///< its sign is the run's
    double lag_s = 0.002;
    double fall_s = 0.0005;  ///< of the clamps
    double hold_s = 3;
    double record_s = 2;
    double interval_s = 0.001;
    double noise_V = 5;
    bool electrode = true;
    std::string headings = "time (s),specimen voltage (V),electrode voltage (V)";  ///< with an electrode
    /// Nothing but the clamps' own part: an insulator that took no charge, or the empty fixture.
    bool uncharged = false;
    double contact_ratio = 0;  ///< resistance of each contact (ohm m) over R_s times the gap
};

inline std::string csv_of(const SheetRecording& plan, std::uint64_t seed) {
    const sheet::TimedSheet timed = sheet::TimedSheet::of(plan.fixture).value();
    const double T = plan.resistivity_ohm_sq * timed.time_per_ohm_s();
    std::mt19937_64 random(seed);
    std::normal_distribution<double> normal;
    std::string out = plan.electrode ? plan.headings + "\n" : "time (s),specimen voltage (V)\n";
    constexpr double zero_s = 0.5;
    const sheet::RelativeModes modes =
        plan.contact_ratio > 0 ? timed.modes_with_contact(plan.contact_ratio).value() : timed.modes();
    const fit::Law fall = sheet::linear_fall(modes, {plan.lag_s, plan.fall_s, plan.hold_s});
    const fit::Law rise = sheet::linear_fall(modes, {plan.lag_s, 0, {}});
    const double induced = modes.induced_fraction;
    const auto value = [&](const fit::Law& law, double t) {
        return fit::values_of(law, std::vector<double>{1}, std::vector<double>{T}, std::vector<double>{t})
            .front();
    };
    const auto rows = static_cast<int>((zero_s + plan.hold_s + plan.record_s) / plan.interval_s);
    for (int i = 0; i < rows; ++i) {
        const double t = i * plan.interval_s - zero_s - plan.hold_s;
        double specimen = 0, electrode = 0;
        if (t >= 0) {
            electrode = std::exp(-t / plan.fall_s);
            // A mode that never was: clamps through the sensor alone.
            const double s = plan.lag_s, f = plan.fall_s;
            specimen = plan.uncharged ? induced * (s * std::exp(-t / s) - f * std::exp(-t / f)) / (s - f)
                                      : value(fall, t);
        } else if (t >= -plan.hold_s) {
            electrode = 1;
            specimen = plan.uncharged ? induced * (1 - std::exp(-(t + plan.hold_s) / plan.lag_s))
                                      : 1 - value(rise, t + plan.hold_s);
        }
        out += fmt::format("{:.6f},{:.4f}", i * plan.interval_s,
                           plan.clamp_V * specimen + plan.noise_V * normal(random));
        if (plan.electrode) out += fmt::format(",{:.4f}", plan.clamp_V * (electrode + 2e-4 * normal(random)));
        out += "\n";
    }
    return out;
}

/// What is left out of [fixture] is not stated; `more` goes to the end of the file.
inline std::string sheet_bench_toml(const std::string& fixture =
                                        "clamp_gap_mm = 76.2\nsensor_distance_mm = 25\n"
                                        "enclosure_behind_mm = 50\n",
                                    const std::string& more = "") {
    return R"(schema = "ebbtide.bench/1"
id = "sheet-bench"
revision = "1"
apparatus = "clamp_discharge"
[sensor]
name = "field sensor"
gain = 1
u_gain = 0.01
lag_s = 0.002
u_lag_s = 0.0002
u_linearity = 0
resolution_s = 0.001
[electrode]
gain = 1
u_gain = 0.005
[fixture]
)" + fixture +
           R"([recorder]
u_time_base = 0.0001
u_channel_skew_s = 0
lead_in_is_zero_state = true
[hygrometer]
name = "hygrometer"
u_relative_humidity_percent = 1
u_temperature_C = 0.3
)" + more;
}

}  // namespace ebbtide::testing_support
