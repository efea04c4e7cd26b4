// Simulations: what is read, what is left to its usual value, what is refused.

#include <gtest/gtest.h>

#include "paperwork/documents.hpp"

namespace ebbtide::paperwork {
namespace {

using documents::changed;
using documents::refused;

TEST(SimulationFile, IsReadWithTheUsualValuesOfWhatItLeavesOut) {
    const auto read = parse_simulation(documents::simulation, "s.toml");
    ASSERT_TRUE(read.ok()) << read.error().text();
    EXPECT_EQ(read->seed, 3u);
    EXPECT_EQ(read->sensor_lag_s, 0.004);
    EXPECT_EQ(read->sensor.noise.band_s, 0.004);
    EXPECT_EQ(read->source.rise_s, 0.05);
    EXPECT_EQ(read->source.fall_s, 0.002);
    EXPECT_EQ(read->climate.relative_humidity_percent, 12);
    ASSERT_EQ(read->recordings.size(), 1u);
    ASSERT_EQ(read->recordings[0].runs.size(), 2u);
    EXPECT_EQ(read->recordings[0].runs[0].charge_s, 20);  // of [run]
    EXPECT_EQ(read->recordings[0].runs[0].voltage_V, 5000);
    EXPECT_EQ(read->recordings[0].runs[1].specimen, "");
    EXPECT_EQ(read->recordings[0].faults.at(0).amount, 5e8);
    EXPECT_EQ(read->faults.at(0).shows, true);
    EXPECT_EQ(read->faults.at(0).output_on, 2);
    EXPECT_EQ(read->faults.at(1).amount, 4000);
    ASSERT_TRUE(read->specimen("R1"));
    EXPECT_EQ(read->specimen("R1")->stray_F, 0);
    EXPECT_FALSE(read->specimen("nobody"));
    EXPECT_EQ(read->lines.at(0).second, "L");
}

TEST(SimulationFile, RefusesWhatCannotBe) {
    const auto with = [](std::string_view from, std::string_view to) {
        return parse_simulation(changed(documents::simulation, from, to), "s.toml");
    };
    EXPECT_TRUE(refused(with("specimen = \"S1\"", "specimen = \"S2\""), "no [[specimen]] has the id 'S2'"));
    EXPECT_TRUE(refused(with("id = \"R1\"", "id = \"S1\""), "two [[specimen]] have the id 'S1'"));
    EXPECT_TRUE(refused(with("kind = \"slips_out\"", "kind = \"slip_out\""), "slips_out"));
    EXPECT_TRUE(refused(with("level_V = 4000\n", ""), "'fault.level_V' is missing"));
    EXPECT_TRUE(refused(with("voltage_V = -5000", "voltage_V = 0"), "voltage_V' is 0"));
    EXPECT_TRUE(refused(with("Laboratory: L", "Laboratory"), "is not 'what: value'"));
    // A figure of another kind of fault.
    EXPECT_TRUE(refused(with("level_V", "by_fraction"), "unknown key"));
    // A plate conducts: it has no resistivity of its own.
    EXPECT_TRUE(refused(with("kind = \"check_standard\"", "kind = \"plate\""), "unknown key"));
}

TEST(SimulationFile, TakesAMapOfALinearSheetOnABacking) {
    const std::string map =
        "map = { width_mm = 40, cell_mm = 2, surface_resistivity_ohm_sq = 2e11, leak_S_m2 = 1e-9, patch = "
        "[{ along_from_mm = 0, along_to_mm = 9, across_from_mm = 0, across_to_mm = 8, "
        "surface_resistivity_ohm_sq = 1e9 }] }\n";
    const std::string even =
        "surface_resistivity_ohm_sq = 1e11\nabsorption = [{ capacitance_F_m2 = 1e-10, relaxation_s = 2 "
        "}]\n";
    const std::string mapped = changed(documents::simulation, even, map);
    const auto read = parse_simulation(mapped, "s.toml");
    ASSERT_TRUE(read.ok()) << read.error().text();
    const plan::SimulatedSpecimen& sheet = *read->specimen("S1");
    ASSERT_TRUE(sheet.map);
    EXPECT_EQ(sheet.map->patches.size(), 1u);
    EXPECT_EQ(sheet.surface_resistivity_ohm_sq, 2e11);
    EXPECT_EQ(sheet.leak_S_m2, 1e-9);
    const auto with = [&](std::string_view from, std::string_view to) {
        return parse_simulation(changed(mapped, from, to), "s.toml");
    };
    EXPECT_TRUE(refused(with("[backing]\ncapacitance_F_m2 = 1e-9\n", ""), "a sheet that hangs has no map"));
    EXPECT_TRUE(refused(with("map = {", "surface_resistivity_ohm_sq = 1e11\nmap = {"), "unknown key"));
    EXPECT_TRUE(refused(with("map = {", "leak_S_m2 = 0\nmap = {"), "a leak stands beside the map"));
    EXPECT_TRUE(refused(with("map = {", "field_coefficient = 1e-3\nmap = {"), "depends on no field"));
    EXPECT_TRUE(refused(with("cell_mm", "cells_mm"), "Did you mean 'cell_mm'?"));
}

}  // namespace
}  // namespace ebbtide::paperwork
