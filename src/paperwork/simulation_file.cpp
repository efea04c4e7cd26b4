// Simulations. docs/formats/simulation.md explains every key.

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <set>

#include "paperwork/document.hpp"
#include "paperwork/paperwork.hpp"
#include "paperwork/ranges.hpp"
#include "paperwork/sheet_map_file.hpp"
#include "paperwork/table_reader.hpp"

namespace ebbtide::paperwork {
namespace {

constexpr Range any_V{.least = -1e6, .most = 1e6, .unit = "V"};
constexpr Range not_negative_V{.least = 0, .most = 1e6, .unit = "V"};
constexpr Range farads{.least = 0, .most = 1, .unit = "F", .least_excluded = true};
constexpr Range stray_farads{.least = 0, .most = 1, .unit = "F"};
constexpr Range ohms{.least = 0, .most = 1e22, .unit = "ohm", .least_excluded = true};

plan::SimulatedChannel simulated_channel(TableReader& table) {
    plan::SimulatedChannel out;
    out.gain_error = table.number_or("gain_error", {.least = -1, .most = 1}, 0);
    out.offset_V = table.number_or("offset_V", any_V, 0);
    out.drift_V_per_h = table.number_or("drift_V_per_h", {.least = -1e9, .most = 1e9, .unit = "V/h"}, 0);
    out.skew_s = table.number_or("skew_s", {.least = 0, .most = 1, .unit = "s"}, 0);
    out.step = table.number_or("step", {.least = 0, .most = 1e9}, 0);
    out.noise.white_V = table.number_or("white_V", not_negative_V, 0);
    out.noise.band_V = table.number_or("band_V", not_negative_V, 0);
    out.noise.band_s = table.number_or("band_s", positive_s, out.noise.band_s);
    out.noise.pink_V = table.number_or("pink_V", not_negative_V, 0);
    out.noise.hum_V = table.number_or("hum_V", not_negative_V, 0);
    out.noise.hum_Hz = table.number_or(
        "hum_Hz", {.least = 0, .most = 1e6, .unit = "Hz", .least_excluded = true}, out.noise.hum_Hz);
    out.noise.hum_phase_rad =
        table.number_or("hum_phase_rad", {.least = -100, .most = 100, .unit = "rad"}, 0);
    return out;
}

plan::SimulatedSource simulated_source(TableReader table) {
    plan::SimulatedSource out;
    out.rise_s = table.number_or("rise_s", not_negative_s, out.rise_s);
    out.fall_s = table.number_or("fall_s", not_negative_s, out.fall_s);
    out.capacitance_F = table.number_or("capacitance_F", farads, out.capacitance_F);
    out.bleed_ohm = table.number_or("bleed_ohm", ohms, out.bleed_ohm);
    out.setting_sd_V = table.number_or("setting_sd_V", not_negative_V, 0);
    out.relay_s = table.number_or("relay_s", not_negative_s, out.relay_s);
    out.relay_scatter_s = table.number_or("relay_scatter_s", not_negative_s, 0);
    return out;
}

plan::SimulatedBacking simulated_backing(TableReader table) {
    plan::SimulatedBacking out;
    out.capacitance_F_m2 =
        table.number("capacitance_F_m2", {.least = 0, .most = 1, .unit = "F/m2", .least_excluded = true});
    out.view_mm = table.optional_number("view_mm", {.least = 0, .most = 1e4, .unit = "mm"});
    out.induced_fraction =
        table.number_or("induced_fraction", {.least = 0, .most = 1, .most_excluded = true}, 0);
    return out;
}

plan::SimulatedSpecimen simulated_specimen(TableReader& table) {
    using Kind = plan::SimulatedSpecimen::Kind;
    static constexpr std::array<std::pair<std::string_view, Kind>, 3> kinds{
        {{"sheet", Kind::sheet}, {"plate", Kind::plate}, {"check_standard", Kind::check_standard}}};
    plan::SimulatedSpecimen out;
    out.id = table.id("id");
    if (table.has("kind")) out.kind = table.choice<Kind>("kind", kinds).value_or(Kind::sheet);
    if (out.kind == Kind::sheet) {
        if (!table.has("map"))
            out.surface_resistivity_ohm_sq = table.number("surface_resistivity_ohm_sq", ohms);
        out.field_coefficient =
            table.number_or("field_coefficient", {.least = 0, .most = 1, .unit = "(m/V)^(1/2)"}, 0);
        out.leak_S_m2 = table.number_or("leak_S_m2", {.least = 0, .most = 1e3, .unit = "S/m2"}, 0);
        out.contact_ohm_m = table.number_or("contact_ohm_m", {.least = 0, .most = 1e18, .unit = "ohm m"}, 0);
        out.residual_V = table.number_or("residual_V", any_V, 0);
        out.humidity_percent_per_decade = table.optional_number(
            "humidity_percent_per_decade", {.least = 0, .most = 1000, .unit = "%", .least_excluded = true});
        for (TableReader& term : table.tables_or_none("absorption")) {
            const double farads_m2 = term.number(
                "capacitance_F_m2", {.least = 0, .most = 1, .unit = "F/m2", .least_excluded = true});
            out.absorption.push_back({farads_m2, term.number("relaxation_s", positive_s)});
        }
        if (auto map = table.optional_table("map")) {
            out.map = sheet_map_in(*map);
            out.surface_resistivity_ohm_sq = out.map->surface_resistivity_ohm_sq;
            if (table.has("leak_S_m2"))
                table.problem("leak_S_m2", "a leak stands beside the map", "Put it into the map");
            if (out.field_coefficient > 0 || !out.absorption.empty())
                table.problem("map", "a sheet with a map depends on no field and absorbs nothing",
                              "Leave the map away, or field_coefficient and absorption");
            out.leak_S_m2 = out.map->leak_S_m2;
        }
    } else if (out.kind == Kind::check_standard) {
        out.resistance_ohm = table.number("resistance_ohm", ohms);
        out.capacitance_F = table.number("capacitance_F", farads);
        out.stray_F = table.number_or("stray_F", stray_farads, 0);
        out.to_clamps_F = table.number_or("to_clamps_F", stray_farads, 0);
        out.voltage_coefficient_per_V =
            table.number_or("voltage_coefficient_per_V", {.least = -2e-5, .most = 2e-5, .unit = "1/V"}, 0);
    }
    return out;
}

/// `usual` with whatever the table says.
plan::SimulatedRun simulated_run(TableReader& table, const plan::SimulatedRun& usual) {
    plan::SimulatedRun out = usual;
    out.voltage_V = table.number_or("voltage_V", any_V, usual.voltage_V);
    if (out.voltage_V == 0)
        table.problem("voltage_V", fmt::format("'{}' is 0", table.full_key("voltage_V")),
                      "A run charges something");
    out.zero_s = table.number_or("zero_s", not_negative_s, usual.zero_s);
    out.residual_s = table.number_or("residual_s", not_negative_s, usual.residual_s);
    out.charge_s = table.number_or("charge_s", positive_s, usual.charge_s);
    out.decay_s = table.number_or("decay_s", positive_s, usual.decay_s);
    out.after_s = table.number_or("after_s", not_negative_s, usual.after_s);
    out.earthed = table.truth_or("earthed", usual.earthed);
    return out;
}

plan::SimulatedFault simulated_fault(TableReader& table) {
    using plan::FaultKind, plan::Readback;
    static const auto kinds = [] {
        std::array<std::pair<std::string_view, FaultKind>, plan::fault_count> out;
        for (std::size_t i = 0; i < plan::fault_count; ++i)
            out[i] = {plan::facts(static_cast<FaultKind>(i)).name, static_cast<FaultKind>(i)};
        return out;
    }();
    static constexpr std::array<std::pair<std::string_view, Readback>, 4> readbacks{
        {{"interlock", Readback::interlock},
         {"output", Readback::output},
         {"earth", Readback::earth},
         {"shutter", Readback::shutter}}};
    plan::SimulatedFault out;
    const auto kind = table.choice<FaultKind>("kind", kinds);
    if (table.has("output_on")) out.output_on = table.whole("output_on", 1, 1'000'000);
    out.after_s = table.number_or("after_s", not_negative_s, 0);
    out.for_s = table.optional_number("for_s", positive_s);
    if (!kind) {
        static_cast<void>(table.all());  // which other keys it may hold is the kind's matter
        return out;
    }
    out.kind = *kind;
    const plan::FaultFacts& facts = plan::facts(*kind);
    if (!facts.amount.empty()) {
        const Range range{.least = facts.least, .most = facts.most, .unit = facts.unit};
        out.amount = facts.usual ? table.number_or(facts.amount, range, *facts.usual)
                                 : table.number(facts.amount, range);
    }
    if (*kind == FaultKind::readback_wrong) {
        out.readback = table.choice<Readback>("readback", readbacks).value_or(Readback::output);
        if (table.has("shows")) out.shows = table.truth_or("shows", false);
    }
    return out;
}

std::vector<std::pair<std::string, std::string>> simulated_lines(TableReader& top) {
    std::vector<std::pair<std::string, std::string>> out;
    for (const std::string& line : top.texts_or_none("lines")) {
        const std::size_t colon = line.find(": ");
        if (colon == std::string::npos || colon == 0 || line.find_first_of("\n,\"") != std::string::npos)
            top.problem("lines", fmt::format("the line '{}' is not 'what: value'", shortened(line)),
                        "Put a colon and a blank between the two; no comma, no quote");
        else
            out.emplace_back(line.substr(0, colon), line.substr(colon + 2));
    }
    return out;
}

plan::Simulation simulation(TableReader& top, const Node&) {
    plan::Simulation out;
    out.bench = top.file("bench");
    out.seed = static_cast<std::uint64_t>(top.whole("seed", 0, std::numeric_limits<int>::max()));
    out.rate_Hz = top.number("rate_Hz", {.least = 0, .most = 1e7, .unit = "Hz", .least_excluded = true});
    out.lines = simulated_lines(top);
    if (auto table = top.optional_table("backing")) out.backing = simulated_backing(std::move(*table));
    if (auto table = top.optional_table("sensor")) {
        out.sensor = simulated_channel(*table);
        out.sensor_lag_s = table->optional_number("lag_s", not_negative_s);
    }
    if (auto table = top.optional_table("electrode")) out.electrode = simulated_channel(*table);
    if (auto table = top.optional_table("source")) out.source = simulated_source(std::move(*table));
    if (auto table = top.optional_table("climate")) {
        out.climate.temperature_C =
            table->number_or("temperature_C", temperature_C, out.climate.temperature_C);
        out.climate.relative_humidity_percent = table->number_or(
            "relative_humidity_percent", humidity_percent, out.climate.relative_humidity_percent);
    }
    std::vector<std::string> specimens;
    for (TableReader& table : top.tables_or_none("specimen")) {
        out.specimens.push_back(simulated_specimen(table));
        if (out.specimens.back().map && !out.backing)
            table.problem("map", "a sheet that hangs has no map: every place of it acts on every other",
                          "Say under [backing] what it lies on");
        const std::string& id = out.specimens.back().id;
        if (std::ranges::find(specimens, id) != specimens.end())
            table.problem("id", fmt::format("two [[specimen]] have the id '{}'", shortened(id)),
                          "Names must differ");
        specimens.push_back(id);
    }
    plan::SimulatedRun usual;
    if (auto table = top.optional_table("run")) usual = simulated_run(*table, usual);
    std::set<std::string> files;
    for (TableReader& table : top.tables_or_none("recording")) {
        plan::SimulatedRecording recording;
        recording.file = table.file("file");
        if (!recording.file.empty() && !files.insert(recording.file).second)
            table.problem("file",
                          fmt::format("the recording '{}' stands above already", shortened(recording.file)),
                          "Give each a name of its own");
        for (TableReader& run : table.tables("runs")) {
            recording.runs.push_back(simulated_run(run, usual));
            std::string& specimen = recording.runs.back().specimen;
            if (run.has("specimen")) specimen = run.id("specimen");
            if (!specimen.empty() && !out.specimen(specimen))
                run.problem("specimen", fmt::format("no [[specimen]] has the id '{}'", shortened(specimen)),
                            run.suggestion(specimen, specimens, "Describe it under [[specimen]]"));
            recording.runs.back().face = run.text_or("face", "");
        }
        for (TableReader& fault : table.tables_or_none("faults"))
            recording.faults.push_back(simulated_fault(fault));
        out.recordings.push_back(std::move(recording));
    }
    for (TableReader& fault : top.tables_or_none("fault")) out.faults.push_back(simulated_fault(fault));
    return out;
}

}  // namespace

Result<plan::Simulation> parse_simulation(std::string_view toml, const std::string& name) {
    return read_document<plan::Simulation>(toml, name, "simulation", simulation);
}

}  // namespace ebbtide::paperwork
