#include "work/known_order.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "work/judge_order.hpp"
#include "work/order_files.hpp"

namespace ebbtide::work {
namespace {

using validation::Check;
using validation::once;

constexpr double time_constant_s = 0.2, step_s = 0.00025, held_V = 4900;

constexpr const char* method = R"(schema = "ebbtide.method/1"
id = "known-method"
edition = "1"
title = "Decay to 50 %, 1/e and 10 %, both polarities"
source = "house rule"
notice = "Made to check this program; it replaces no document."
apparatus = "clamp_discharge"

[charging]
voltage_V = { nominal = 5000, plus_minus = 100 }
hold_s = 1
minimum_accepted_fraction = 0.8
polarities = "both"

[initial_voltage]
basis = "hold_mean"
window_s = 0.2
guard_s = 0.05

[limits]
residual_V = 50
zero_V = 50

[decay]
levels = ["50 %", "1/e", "10 %"]
extrapolation = false

[runs]
replicates = 1

[sources]
charging = "house rule"
initial_voltage = "house rule"
limits = "house rule"
decay = "house rule"
runs = "house rule"
)";

constexpr const char* specification = R"(schema = "ebbtide.specification/1"
id = "known-specification"
edition = "1"
title = "A fall to 10 % within a limit"
source = "house rule"
notice = "Made to check this program; it replaces no document."
apparatus = "clamp_discharge"

[[demand]]
id = "decay-10"

[[demand.any_of]]
id = "decay-10-mean"
clause = "house rule"
level = "10 %"
statistic = "mean"
group_by = ["specimen"]
comparison = "<="
limit_s = LIMIT
)";

constexpr const char* bench = R"(schema = "ebbtide.bench/1"
id = "known-bench"
revision = "1"
apparatus = "clamp_discharge"

[sensor]
name = "none: the recording is worked out"
gain = 1
full_scale_V = 10000
u_gain = 0
lag_s = 0
u_lag_s = 0
u_linearity = 0
resolution_s = 0.001

[electrode]
gain = 1
full_scale_V = 10000
u_gain = 0

[fixture]
clamp_gap_mm = 76
sensor_distance_mm = 12.5
induced_fraction_positive = 0
induced_fraction_negative = 0
u_induced_fraction = 0

[recorder]
u_time_base = 0
u_channel_skew_s = 0
lead_in_is_zero_state = true

[hygrometer]
name = "none"
u_relative_humidity_percent = 0
u_temperature_C = 0
)";

constexpr const char* order = R"(schema = "ebbtide.order/1"
id = "KNOWN-1"
title = "An order with known figures"
revision = 1
bench = "bench.toml"
laboratory = { name = "none", address = "none" }
customer = { name = "none", address = "none" }
method = { file = "method.toml", edition = "1" }
specification = { file = "specification.toml", edition = "1" }
dates = { tested_from = 2026-01-05, tested_to = 2026-01-05 }
people = { tested_by = "nobody" }

[decision_rule]
RULE
agreed = "nobody: made to check this program"

[[item]]
id = "I1"
description = "A resistor and a capacitor, worked out"
condition_on_receipt = "none"

[[specimen]]
id = "S1"
item = "I1"
state = "as received"

[[conditions]]
id = "dry"
relative_humidity_percent = 12
temperature_C = 23

[[recording]]
file = "recording.csv"
runs = [
  { specimen = "S1", face = "front", conditions = "dry", polarity = "+" },
  { specimen = "S1", face = "front", conditions = "dry", polarity = "-" },
]
)";

std::string with(std::string text, const std::string& placeholder, const std::string& instead) {
    return text.replace(text.find(placeholder), placeholder.size(), instead);
}

/// One run of each polarity: half a second of zero, 1.5 s held, a fall by 0.2 s a factor e. The release lies
/// half-way between two samples.
std::string recording() {
    std::string text = "Time (s),Electrode (kV),Specimen (kV)\n";
    double t = 0;
    std::size_t line = 0;
    for (const double sign : {1.0, -1.0}) {
        const double charge_s = t + 0.5, release_s = charge_s + 1.5 + step_s / 2, end_s = release_s + 2;
        for (; t < end_s; t = static_cast<double>(++line) * step_s) {
            const bool held = t >= charge_s && t <= release_s;
            const double fallen = held ? 1 : std::exp(-(t - release_s) / time_constant_s);
            text += fmt::format("{:.5f},{:.4f},{:.6f}\n", t, held ? sign * 5 : 0.0,
                                t < charge_s ? 0.0 : sign * held_V / 1000 * fallen);
        }
    }
    return text;
}

record::OrderRecord judged(const std::string& rule, const std::string& limit_s) {
    std::vector<report::Attachment> files;
    for (const auto& [name, text] :
         {std::pair<std::string, std::string>{"order.toml", with(order, "RULE", rule)},
          {"method.toml", method},
          {"specification.toml", with(specification, "LIMIT", limit_s)},
          {"bench.toml", bench},
          {"recording.csv", recording()}})
        files.push_back({name, "", "", text});
    auto judged = judge_order(*attached_files(std::move(files)), Instant{});
    if (!judged) throw std::runtime_error(judged.error().text());
    return std::move(judged->record);
}

const decay::Figures& run(const record::OrderRecord& record, std::size_t index) {
    return record.judgement.runs.at(index).figures.value();
}

}  // namespace

std::vector<Check> order_checks() {
    const auto record = once([] { return judged("kind = \"simple\"", "0.5"); });
    std::vector<Check> checks;
    const auto add = [&](std::string name, const char* source, const char* printed, const char* unit,
                         std::function<validation::Answer()> ours, validation::Allowed allowed = {}) {
        checks.push_back({"A whole order, from the bytes of a recording to the statement", std::move(name),
                          source, printed, unit, std::move(ours), std::move(allowed)});
    };
    const char* known = "an exponential of 0.2 s from 4900 V, worked out and written as text";
    const auto half_sample = validation::difference(
        5e-5, "the release lies half-way between samples 0.00025 s apart, and is found to a fifth of that");
    const char* polarities[] = {"positive", "negative"};
    const char* levels[] = {"50 %", "1/e", "10 %"};
    const char* times[] = {"0.138629", "0.200000", "0.460517"};
    for (std::size_t r = 0; r < 2; ++r) {
        for (std::size_t l = 0; l < 3; ++l)
            add(
                fmt::format("{} run: t({})", polarities[r], levels[l]), known, times[l], "s",
                [=] { return run(record(), r).levels.at(l).decay_s.value(); }, half_sample);
        add(fmt::format("{} run: V0", polarities[r]), known, "4900.0", "V",
            [=] { return run(record(), r).initial_voltage_V.value(); });
        add(fmt::format("{} run: accepted fraction", polarities[r]), known, "0.980", "",
            [=] { return run(record(), r).accepted_fraction.value(); });
    }
    add(
        "mean of both runs: t(10 %)", known, "0.460517", "s",
        [=] { return record().judgement.requirements.at(0).findings.at(0).value_s.value(); }, half_sample);
    const char* rule = "limit and decision rule against the known mean, by hand";
    const auto statement = [](const record::OrderRecord& of) {
        return std::string(plan::name_of(of.judgement.statement));
    };
    add("statement, at most 0.5 s", rule, "pass", "", [=] { return statement(record()); });
    add("statement, at most 0.4 s", rule, "fail", "",
        [=] { return statement(judged("kind = \"simple\"", "0.4")); });
    const std::string guarded = "kind = \"guarded\"\nguard_s = 0.02";
    add("statement, at most 0.47 s, guard band 0.02 s", rule, "conditional pass", "",
        [=] { return statement(judged(guarded, "0.47")); });
    add("statement, at most 0.45 s, guard band 0.02 s", rule, "conditional fail", "",
        [=] { return statement(judged(guarded, "0.45")); });
    return checks;
}

}  // namespace ebbtide::work
