#pragma once
// A whole invented order of the Tern Point Materials Laboratory, filled in by hand: exponential curves with
// noise, figures that fit them, findings as a judgement would give them. Nothing here is real.

#include <array>
#include <cmath>
#include <cstdint>
#include <numbers>
#include <string>

#include "basis/sha256.hpp"
#include "judge/uncertainty_of.hpp"
#include "report/report.hpp"

namespace ebbtide::testing_support {

/// Splitmix64 and Box-Muller: the same numbers on every machine.
class Noise {
  public:
    explicit Noise(std::uint64_t seed) : state_(seed) {}
    double uniform() {
        state_ += 0x9e3779b97f4a7c15ULL;
        std::uint64_t z = state_;
        z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9ULL;
        z = (z ^ (z >> 27)) * 0x94d049bb133111ebULL;
        return (static_cast<double>((z ^ (z >> 31)) >> 11) + 0.5) * 0x1p-53;
    }
    double normal() {
        const double radius = std::sqrt(-2 * std::log(uniform()));
        return radius * std::cos(2 * std::numbers::pi * uniform());
    }

  private:
    std::uint64_t state_;
};

struct RunShape {
    double time_constant_s = 0.17;
    double initial_V = 4900;
    double noise_V = 12;
    double record_s = 2;
};

inline report::PlotTrace curve_of(const RunShape& shape, std::uint64_t seed) {
    Noise noise(seed);
    report::PlotTrace trace;
    for (int i = -200; i <= static_cast<int>(shape.record_s * 500); ++i) {
        const double t = i / 500.0;
        const double held = t < 0 ? 1 : std::exp(-t / shape.time_constant_s);
        trace.time_s.push_back(t);
        trace.specimen_V.push_back(shape.initial_V * held + shape.noise_V * noise.normal());
        trace.electrode_V.push_back(t < 0 ? 5005 + 2 * noise.normal() : 5005 * std::exp(-t / 0.003));
    }
    return trace;
}

inline plan::Level level_of(const char* text) {
    return plan::parse_level(text).value();
}

/// First-order budget of an exponential, as JCGM 100:2008, clause 5 has it.
inline std::vector<decay::Contribution> budget_of(const RunShape& shape, double fraction, double decay_s) {
    const double slope = fraction * shape.initial_V / shape.time_constant_s;
    return {{"linearity of the sensor", 0.01, "1", shape.time_constant_s, {}, decay::Scope::bench, ""},
            {"zero", 6, "V", (1 - fraction) / slope, {}, decay::Scope::day, ""},
            {"noise at the crossing", shape.noise_V / 4, "V", 1 / slope, 24.0, decay::Scope::run, ""},
            {"initial voltage", 2.5, "V", fraction / slope, 60.0, decay::Scope::run, ""},
            {"release", 0.0004, "s", 1, {}, decay::Scope::run, ""},
            {"lag of the sensor", 0.0003, "s", 1, {}, decay::Scope::bench, ""},
            {"time base", 5e-5, "1", decay_s, {}, decay::Scope::bench, ""}};
}

inline decay::Figures figures_of(const RunShape& shape, plan::Polarity polarity) {
    decay::Figures f;
    f.polarity = polarity;
    f.release_s = 12.4032;
    f.u_release_s = 0.0004;
    f.release_source = decay::ReleaseSource::electrode_fall;
    f.release_delay_s = 0.003;
    f.charging_s = 20.03;
    f.zero_V = -3.21;
    f.u_zero_V = 1.4;
    f.initial_voltage_V = shape.initial_V;
    f.u_initial_voltage_V = 2.5;
    f.residual_V = 7.4;
    f.electrode_V = 5005.2;
    f.accepted_fraction = shape.initial_V / 5005.2;
    f.accepted_charge = shape.initial_V / 5005.2 - 0.073;
    f.prompt_drop = 0.081;
    f.remaining_fraction = std::exp(-shape.record_s / shape.time_constant_s);
    f.record_s = shape.record_s;
    f.noise_V = shape.noise_V;
    f.resolution_s = 0.012;
    for (const char* text : {"0.5", "1/e", "0.1"}) {
        decay::LevelFigure figure;
        figure.level = level_of(text);
        figure.level_V = figure.level.volts(shape.initial_V);
        const double decay_s = -shape.time_constant_s * std::log(figure.level.value);
        if (decay_s < shape.record_s) {
            figure.status = decay::LevelStatus::measured;
            figure.decay_s = decay_s;
            figure.budget = budget_of(shape, figure.level.value, decay_s);
            double variance = 0;
            for (const auto& line : figure.budget) variance += line.u_s() * line.u_s();
            figure.u_decay_s = std::sqrt(variance);
            figure.degrees_of_freedom = 410;
        } else {
            figure.status = decay::LevelStatus::not_reached;
            figure.reason = "the record ends at 36.8 % of V0";
            figure.at_least_s = shape.record_s;
        }
        f.levels.push_back(std::move(figure));
    }
    return f;
}

inline plan::Order invented_order() {
    plan::Order order;
    order.id = "TP-2026-0412";
    order.title = "Wiping cloth for a clean room, as received and washed";
    order.revision = 1;
    order.laboratory = {"Tern Point Materials Laboratory", "4 Causeway Lane\nTern Point",
                        "lab@ternpoint.example"};
    order.laboratory_location = "Dry room 2, same address";
    order.customer = {"Saltmarsh Weavers Cooperative", "17 Loom Street\nSaltmarsh", "Ida Lunt, quality"};
    order.method = {"tp-house-decay", "2026-02"};
    order.specification = {"tp-cloth-limits", "2"};
    order.decision_rule.agreed = "Ida Lunt, 2026-10-02, in writing";
    order.items = {
        {"C-7", "Polyester wiping cloth with carbon thread, white", "L2291", "sealed bag, undamaged"},
        {"C-8", "The same cloth, washed five times by the customer", "L2291", "bag opened, folded once"}};
    for (const auto& [id, item, direction, state] :
         {std::array{"W1", "C-7", "warp", "as received"}, std::array{"W2", "C-7", "warp", "as received"},
          std::array{"F1", "C-7", "filling", "as received"},
          std::array{"F2", "C-7", "filling", "as received"},
          std::array{"W3", "C-8", "warp", "washed 5 times"},
          std::array{"F3", "C-8", "filling", "washed 5 times"}})
        order.specimens.push_back({id, item, direction, "more than 100 mm from the edges", state});
    order.conditions = {{"dry", 12.1, 23.2, parse_instant("2026-10-12T08:10:00Z").value(),
                         parse_instant("2026-10-14T07:30:00Z").value()}};
    order.received = Date{2026, 10, 5};
    order.sampled = Date{2026, 10, 6};
    order.sampled_by = "the customer";
    order.sampling_plan = "";
    order.tested_from = {2026, 10, 14};
    order.tested_to = {2026, 10, 15};
    order.issued = Date{2026, 10, 19};
    order.tested_by = "M. Okoro";
    order.authorised_by = "R. Hale";
    order.authorised_role = "head of the electrostatics bench";
    order.deviations = {"Specimen F3 was cut 90 mm from the edge: the item was too narrow for 100 mm."};
    return order;
}

inline plan::Bench invented_bench() {
    plan::Bench bench;
    bench.id = "bench-2";
    bench.revision = "2026-09";
    bench.sensor.name = "field sensor, 12.5 mm";
    bench.sensor.serial = "0071";
    bench.sensor.scale = {1000.0, 1004.0, 0.0, 10000.0, 0.004};
    bench.sensor.lag_s = 0.004;
    bench.sensor.u_lag_s = 0.0003;
    bench.sensor.u_linearity = 0.01;
    bench.sensor.resolution_s = 0.012;
    bench.fixture = {76.2, 12.5, 20.0, 50.0, 0.073, 0.071, 0.004};
    bench.recorder = {5e-5, 0.0001};
    bench.hygrometer = {"capacitive probe, serial H-12", 0.8, 0.2};
    bench.lead_in_is_zero_state = true;
    bench.calibrations = {{"field sensor 0071", "TP-C-118", {2026, 3, 2}, {2027, 3, 2}},
                          {"hygrometer H-12", "TP-C-121", {2026, 5, 20}, {2027, 5, 20}}};
    return bench;
}

inline plan::Requirement requirement_of(const char* id, plan::Statistic statistic) {
    plan::Requirement requirement;
    requirement.id = id;
    requirement.clause = "4.2";
    requirement.level = level_of("0.1");
    requirement.statistic = statistic;
    if (statistic == plan::Statistic::mean) {
        requirement.group_by = {plan::GroupKey::direction, plan::GroupKey::state};
        requirement.comparison = plan::Comparison::less_or_equal;
    } else {
        requirement.comparison = plan::Comparison::less;
    }
    requirement.limit_s = 0.5;
    return requirement;
}

/// Twelve runs: six specimens, both polarities. One is set aside, one never reaches its level.
inline report::ReportInput invented_report() {
    report::ReportInput input;
    record::OrderRecord& record = input.record;
    record.engine_version = "0.1.0";
    record.settings_hash = std::string(60, 'a') + "0123";
    record.made = parse_instant("2026-10-19T09:26:53Z").value();
    record.order = invented_order();
    record.bench = invented_bench();
    plan::Method& method = record.method;
    method.id = "tp-house-decay";
    method.edition = "2026-02";
    method.title = "Decay time by clamp discharge, house method";
    method.source = "the laboratory's own method";
    method.conditioning = {plan::Tolerance{12, 3}, plan::Tolerance{23, 2}, 24.0, {}};
    method.charging.voltage_V = plan::Tolerance{5000, 50};
    method.charging.hold_s = 20;
    method.value_sources = {
        {"levels", "3.4"}, {"relative_humidity_percent", "3.1"}, {"hold_s", "common practice, no source"}};
    method.decay.levels = {level_of("0.5"), level_of("1/e"), level_of("0.1")};
    plan::Specification& specification = record.specification;
    specification.id = "tp-cloth-limits";
    specification.edition = "2";
    specification.title = "Cloth for clean rooms: limits of charge decay";
    specification.source = "invented for this example";
    specification.remarks = {
        "The clause on averages allows 0.5 s itself, the clause on single runs does not."};
    const auto mean = requirement_of("4.2-average", plan::Statistic::mean);
    const auto each = requirement_of("4.2-each", plan::Statistic::each_run);
    specification.demands = {{"average", {mean}}, {"each", {each}}};

    judge::Judgement& judgement = record.judgement;
    std::uint64_t seed = 1;
    int index = 0;
    for (const plan::Specimen& specimen : record.order.specimens)
        for (const auto polarity : {plan::Polarity::positive, plan::Polarity::negative}) {
            RunShape shape;
            const bool washed = specimen.state != "as received";
            shape.time_constant_s = (specimen.direction == "warp" ? 0.150 : 0.172) + (washed ? 0.022 : 0) +
                                    0.003 * std::sin(1.7 * index) +
                                    (polarity == plan::Polarity::negative ? 0.004 : 0);
            shape.initial_V = 4890 + 9.0 * index;
            judge::JudgedRun run;
            run.key = {specimen.id, "front", "dry", polarity, 1};
            run.run_id = "run-" + std::to_string(++index);
            run.counts = true;
            if (index == 4) {
                run.counts = false;
                run.flags.emplace_back(plan::FlagCode::set_aside,
                                       "the operator touched the enclosure at 0.2 s");
            }
            if (index == 12) {
                shape.time_constant_s = 3.1;
                run.fails = false;
            }
            if (index % 3 == 0)
                run.flags.emplace_back(plan::FlagCode::noise_unresolved, "the recorder steps by 2.4 V");
            run.figures = figures_of(shape, polarity);
            run.figures->release_s += 61.37 * index;
            run.figures->zero_V += 0.31 * index;
            run.figures->residual_V = 5.2 + 0.4 * index;
            run.figures->prompt_drop = 0.078 + 0.0007 * index;
            input.traces[run.run_id] = curve_of(shape, seed++);
            judgement.runs.push_back(std::move(run));
        }

    judge::RequirementOutcome means{"average", mean, {}, plan::Conformity::pass};
    means.findings.push_back({"warp, as received",
                              {0, 1, 2},
                              judge::BoundKind::value,
                              0.3512,
                              0.0031,
                              0.0062,
                              0.0071,
                              0.0004,
                              plan::Conformity::pass,
                              "0.351 s is within 0.5 s"});
    means.findings.push_back({"filling, as received",
                              {4, 5, 6, 7},
                              judge::BoundKind::value,
                              0.4021,
                              0.0034,
                              0.0068,
                              0.0080,
                              0.0004,
                              plan::Conformity::pass,
                              "0.402 s is within 0.5 s"});
    means.findings.push_back({"warp, washed 5 times",
                              {8, 9},
                              judge::BoundKind::value,
                              0.4031,
                              0.0034,
                              0.0068,
                              0.0065,
                              0.0004,
                              plan::Conformity::pass,
                              "0.403 s is within 0.5 s"});
    means.findings.push_back({"filling, washed 5 times",
                              {10, 11},
                              judge::BoundKind::at_least,
                              1.2243,
                              {},
                              {},
                              {},
                              {},
                              plan::Conformity::fail,
                              "one run never reached 10 %: the mean is over 0.5 s"});
    for (std::size_t i = 0; i < 3; ++i)
        means.findings[i].budget = judge::budget_of_mean(means.findings[i].runs, judgement.runs, mean.level);
    means.outcome = plan::Conformity::fail;
    judge::RequirementOutcome single{"each", each, {}, plan::Conformity::fail};
    for (std::size_t i = 0; i < judgement.runs.size(); ++i) {
        const auto& run = judgement.runs[i];
        if (!run.counts) continue;
        const decay::LevelFigure& figure = run.figures->levels[2];
        judge::Finding finding;
        finding.group = run.key.label();
        finding.runs = {i};
        if (figure.decay_s) {
            finding.bound = judge::BoundKind::value;
            finding.value_s = figure.decay_s;
            finding.u_s = figure.u_decay_s;
            finding.expanded_u_s = 2 * *figure.u_decay_s;
            finding.budget = judge::budget_of_mean(finding.runs, judgement.runs, each.level);
            finding.wrong_acceptance = 0.001;
            finding.outcome = plan::Conformity::pass;
            finding.reason = "below 0.5 s";
        } else {
            finding.bound = judge::BoundKind::at_least;
            finding.value_s = figure.at_least_s;
            finding.outcome = plan::Conformity::fail;
            finding.reason = "10 % was not reached within the record";
        }
        single.findings.push_back(std::move(finding));
    }
    judgement.requirements = {means, single};
    judgement.statement = plan::Conformity::fail;
    judgement.reasons = {
        "filling, washed 5 times: one of two runs never fell to 10 %, so their mean is over 0.5 s.",
        "F3 front dry - 1: the voltage stood at 52 % of V0 when the record ended after 2.00 s.",
        "All other groups lie within their limits by more than their uncertainty."};
    judgement.cautions = {
        "Two specimens a group say little about the lot: had both passed, more than half of the lot might "
        "still fail.",
        "The figures hold at 12 % relative humidity; in moister air most cloth is faster, in drier air "
        "slower."};

    std::string csv = "time (s),specimen (V),electrode (V)\n0,0,0\n";
    csv += std::string("\0\xff\x80 raw bytes stay as they are\n", 31);
    record.recordings.push_back(
        {"recordings/day1.csv",
         sha256_hex(csv),
         csv.size(),
         "delimited text",
         "comma, point",
         {{"time", "s", 1, trace::Quantity::other},
          {"specimen", "V", 1, trace::Quantity::specimen_voltage},
          {"electrode", "V", 1, trace::Quantity::electrode_voltage}},
         {{trace::Notice::Kind::text_between, 5012, 0, 1, 0, "the line holds '# pause'"}},
         {"run-1", "run-2"}});
    record.inputs = {{"order", "order.toml", sha256_hex("order"), 5},
                     {"recording", "recordings/day1.csv", sha256_hex(csv), csv.size()}};
    input.attachments = {
        {"record.json", "application/json", "the record of the order", "{\"schema\":\"x\"}\n"},
        {"order.toml", "text/plain", "the order", "order"},
        {"recordings/day1.csv", "text/csv", "raw recording", csv}};
    return input;
}

}  // namespace ebbtide::testing_support
