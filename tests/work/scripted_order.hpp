#pragma once
// A small order to be driven, with its bench, and somebody at the bench who does what is asked.

#include <gtest/gtest.h>

#include <algorithm>
#include <functional>
#include <string>
#include <vector>

#include "bench/scripted_bench.hpp"
#include "support/program.hpp"
#include "work/drive.hpp"

namespace ebbtide::testing_support {

/// The drive tables are those of quick_limits(), in words; the method is of the order's own.
inline constexpr const char* scripted_bench_toml = R"(schema = "ebbtide.bench/1"
id = "bench-s"
revision = "1"
apparatus = "clamp_discharge"

[sensor]
name = "sensor"
gain = 1
u_gain = 0.01
lag_s = 0
u_lag_s = 0
u_linearity = 0.004
noise_V = 1
resolution_s = 0.01

[electrode]
gain = 1
u_gain = 0.005

[fixture]
induced_fraction_positive = 0.1
induced_fraction_negative = 0.1
u_induced_fraction = 0.01

[recorder]
u_time_base = 1e-4
u_channel_skew_s = 0
lead_in_is_zero_state = true

[hygrometer]
name = "hygrometer"
u_relative_humidity_percent = 0.8
u_temperature_C = 0.3

[drive]
near_zero_V = 50
settle_tolerance = 0.02
settle_s = 0.1
longest_rise_s = 2
longest_charge_s = 10
earth_within_s = 0.5
longest_fall_s = 20
rest_s = 3
unattended_replicates = 2
residual_s = 0.2
zero_s = 0.5
prepare_within_s = 2
silent_after_s = 0.1
)";

inline constexpr const char* scripted_check_toml = R"(
[check]
valid_h = 8
voltage_V = 5000
second_voltage_V = 2500
hold_s = 2
zero_limit_V = 20
span_tolerance = 0.02
linearity_tolerance = 0.02
induced_tolerance = 0.02
standard_level = "10 %"
standard_decay_s = 0.44
standard_tolerance = 0.05
polarity_tolerance = 0.02
blank_accepted_most = 0.05
)";

inline constexpr const char* scripted_method_toml = R"(schema = "ebbtide.method/1"
id = "m"
edition = "1"
title = "A method of the tests"
source = "invented"
notice = "It replaces no document."
apparatus = "clamp_discharge"

[charging]
voltage_V = { nominal = 5000, plus_minus = 100 }
hold_s = 2
minimum_accepted_fraction = 0.8
polarities = "both"

[initial_voltage]
basis = "hold_mean"
window_s = 0.3
guard_s = 0.05

[limits]
residual_V = 50
zero_V = 50

[decay]
levels = ["50 %", "10 %"]
extrapolation = false

[runs]
replicates = 2

[sources]
charging = "invented"
initial_voltage = "invented"
limits = "invented"
decay = "invented"
runs = "invented"
)";

/// A copy of the awning order, its bench and method replaced; a folder of its own.
class ScriptedOrder {
  public:
    explicit ScriptedOrder(const std::string& more_of_bench = "") {
        std::string order = bytes_of(EBBTIDE_SOURCE_DIR "/examples/awning-live/order.toml");
        const auto change = [&](const std::string& from, const std::string& to) {
            const std::size_t at = order.find(from);
            EXPECT_NE(at, std::string::npos) << from;
            order.replace(at, from.size(), to);
        };
        change("sheet-goods-house-method", "method.toml");
        write_bytes(folder_ / "order.toml", order);
        write_bytes(folder_ / "bench.toml", scripted_bench_toml + more_of_bench);
        write_bytes(folder_ / "method.toml", scripted_method_toml);
    }
    [[nodiscard]] std::string folder() const { return folder_.path(); }
    [[nodiscard]] std::string path(const std::string& name) const { return folder_ / name; }
    [[nodiscard]] work::DriveRequest request() const {
        work::DriveRequest request;
        request.order = folder();
        request.who = "TO";
        request.began = parse_instant("2026-11-25T09:00:00Z").value();
        return request;
    }
    /// Recordings of runs that have a place in the order's live file.
    [[nodiscard]] std::size_t runs_kept() const {
        const std::string live = bytes_of(folder_ / "live.toml");
        std::size_t count = 0;
        for (std::size_t at = live.find("[[recording]]"); at != std::string::npos;
             at = live.find("[[recording]]", at + 1))
            ++count;
        return count;
    }
    [[nodiscard]] std::vector<nlohmann::json> log() const {
        std::vector<nlohmann::json> lines;
        std::istringstream text(bytes_of(folder_ / "drive.log.jsonl"));
        for (std::string line; std::getline(text, line);) {
            auto parsed = nlohmann::json::parse(line, nullptr, false);
            EXPECT_FALSE(parsed.is_discarded()) << line;
            lines.push_back(std::move(parsed));
        }
        return lines;
    }

  private:
    TemporaryFolder folder_;
};

/// A scripted bench whose runs differ by their noise.
struct NoisyBench : ScriptedBench {
    explicit NoisyBench(std::uint64_t seed = 1) { noise.emplace(seed); }
};

/// Does what is asked and notes it.
struct WillingPerson {
    std::vector<work::Question> asked;
    std::function<std::optional<work::Answer>(const work::Question&)> otherwise;
    bool stop = false;

    [[nodiscard]] work::Person person() {
        return {[this](const work::Question& question) {
                    asked.push_back(question);
                    if (otherwise)
                        if (const auto answer = otherwise(question)) return *answer;
                    return work::Answer::done;
                },
                [this] { return stop; },
                {}};
    }
    [[nodiscard]] std::size_t times(work::Question::Kind kind) const {
        return static_cast<std::size_t>(std::ranges::count(asked, kind, &work::Question::kind));
    }
};

}  // namespace ebbtide::testing_support
