#include <gtest/gtest.h>

#include "paperwork/documents.hpp"

namespace ebbtide::paperwork {
namespace {

using documents::changed;
using documents::refused;

Result<plan::Method> with(std::string_view from, std::string_view to) {
    return parse_method(changed(documents::method, from, to), "m.toml");
}

}  // namespace

TEST(MethodFile, HandsOnEveryValue) {
    const auto method = parse_method(documents::method, "m.toml");
    ASSERT_TRUE(method.ok()) << method.error().text();
    EXPECT_EQ(method->id, "short");
    EXPECT_EQ(method->edition, "2");
    EXPECT_EQ(method->title, "A short method");
    EXPECT_EQ(method->source, "house rule");
    EXPECT_EQ(method->notice, "Replaces nothing");
    EXPECT_EQ(method->apparatus, plan::Apparatus::clamp_discharge);
    EXPECT_EQ(method->conditioning.relative_humidity_percent->nominal, 12);
    EXPECT_EQ(method->conditioning.relative_humidity_percent->plus_minus, 3);
    EXPECT_EQ(method->conditioning.temperature_C->plus_minus, 2.5);
    EXPECT_EQ(method->conditioning.at_least_h, 24);
    EXPECT_EQ(method->conditioning.at_most_h, 48);
    EXPECT_EQ(method->charging.voltage_V->nominal, 5000);
    EXPECT_EQ(method->charging.hold_s, 20);
    EXPECT_EQ(method->charging.minimum_initial_V, 4000);
    EXPECT_EQ(method->charging.minimum_accepted_fraction, 0.8);
    EXPECT_EQ(method->charging.polarities, "both");
    EXPECT_EQ(method->decay.basis, plan::InitialBasis::hold_mean);
    EXPECT_EQ(method->decay.basis_window_s, 0.5);
    EXPECT_EQ(method->decay.basis_guard_s, 0.05);
    EXPECT_EQ(method->decay.residual_limit_V, 50);
    EXPECT_EQ(method->decay.zero_limit_V, 25);
    ASSERT_EQ(method->decay.levels.size(), 4u);
    EXPECT_EQ(method->decay.levels[1].value, 0.1);
    EXPECT_EQ(method->decay.levels[2].kind, plan::Level::Kind::absolute_V);
    EXPECT_EQ(method->decay.zero_floor.kind, plan::ZeroFloor::Kind::absolute_V);
    EXPECT_EQ(method->decay.zero_floor.value, 50);
    EXPECT_TRUE(method->decay.extrapolation_allowed);
    EXPECT_EQ(method->replicates, 3);
    EXPECT_EQ(method->faces, std::vector<std::string>{"front"});
    EXPECT_EQ(method->directions, (std::vector<std::string>{"machine", "cross"}));
    EXPECT_EQ(method->consequences.at(plan::FlagCode::spikes), plan::Consequence::void_run);
    EXPECT_EQ(method->value_sources.at("charging.voltage_V"), "house rule");
    EXPECT_EQ(method->value_sources.at("decay.levels"), "from memory");
}

TEST(MethodFile, WhatAMethodDoesNotStateStaysAbsent) {
    std::string text = documents::method;
    const std::size_t from = text.find("[conditioning]"), to = text.find("[charging]");
    text.erase(from, to - from);
    const auto method = parse_method(text, "m.toml");
    ASSERT_TRUE(method.ok()) << method.error().text();
    EXPECT_FALSE(method->conditioning.relative_humidity_percent.has_value());
    EXPECT_FALSE(method->conditioning.at_least_h.has_value());
}

TEST(MethodFile, LevelZeroNeedsSomethingThatStandsForIt) {
    EXPECT_TRUE(refused(with("zero_floor = \"50 V\"\n", ""), "which no exponential ever reaches"));
    EXPECT_TRUE(refused(with("zero_floor = \"50 V\"", "zero_floor = 0"), "'decay.zero_floor' is zero"));
    EXPECT_TRUE(with("zero_floor = \"50 V\"", "zero_floor = \"1 %\"").ok());
}

TEST(MethodFile, LevelsAreFractionsOrVoltages) {
    EXPECT_TRUE(refused(with("\"50 %\"", "1"), "'1' is not a decay level"));
    EXPECT_TRUE(refused(with("\"50 %\"", "-0.1"), "is not a decay level"));
    EXPECT_TRUE(refused(with("\"50 %\"", "\"50 volts\""), "'50 volts' is not a decay level"));
    EXPECT_TRUE(refused(with("\"50 %\"", "true"), "'decay.levels' is true"));
    EXPECT_TRUE(refused(with("\"50 %\"", "nan"), "is not a decay level"));
    EXPECT_TRUE(refused(with("\"50 %\"", "\"10 %\""), "names the level 10 % twice"));
    EXPECT_TRUE(refused(with("[\"50 %\", 0.1, \"500 V\", 0]", "[]"), "at least one"));
}

TEST(MethodFile, EachBasisOfTheInitialVoltageNeedsItsOwnKeysAndNoOther) {
    const std::string hold = "basis = \"hold_mean\"\nwindow_s = 0.5\nguard_s = 0.05";
    EXPECT_TRUE(with(hold, "basis = \"charging_maximum\"\nbandwidth_s = 0.1").ok());
    EXPECT_TRUE(
        refused(with(hold, "basis = \"charging_maximum\""), "'initial_voltage.bandwidth_s' is missing"));
    EXPECT_TRUE(refused(with(hold, "basis = \"charging_maximum\"\nbandwidth_s = 0.1\nguard_s = 0.1"),
                        "'initial_voltage.guard_s' has no meaning with this basis. It belongs to hold_mean"));
    EXPECT_TRUE(refused(with(hold, "basis = \"nominal\""), "'initial_voltage.stated_V' is missing"));
    EXPECT_TRUE(with(hold, "basis = \"without_specimen\"\nstated_V = 1200").ok());
    EXPECT_TRUE(with(hold, "basis = \"hold_mean\"\nguard_s = 0").ok())
        << "the window may be left to the trace";
    EXPECT_TRUE(refused(with(hold, "basis = \"hold_mean\""), "'initial_voltage.guard_s' is missing"));
    EXPECT_TRUE(refused(with(hold, "basis = \"peak\""),
                        "it must be one of 'hold_mean', 'charging_maximum', 'nominal', 'without_specimen'"));
}

TEST(MethodFile, AMisspeltBasisIsOneProblemAndNotFour) {
    const auto method = with("basis = \"hold_mean\"", "basis = \"hold-mean\"");
    ASSERT_FALSE(method.ok());
    EXPECT_EQ(method.error().text().find('\n'), std::string::npos) << method.error().text();
}

TEST(MethodFile, ConsequencesNameFlagsOfTheList) {
    EXPECT_TRUE(refused(with("spikes = \"void_run\"", "spike = \"void_run\""), "Did you mean 'spikes'?"));
    EXPECT_TRUE(refused(with("spikes = \"void_run\"", "spikes = \"ignore\""), "one of 'note', 'warn'"));
}

TEST(MethodFile, SourcesSpeakOfValuesThatTheFileHolds) {
    EXPECT_TRUE(refused(with("charging.voltage_V = \"house rule\"", "charging.voltage = \"house rule\""),
                        "Did you mean 'charging.voltage_V'?"));
    EXPECT_TRUE(refused(with("charging.voltage_V = \"house rule\"", "charging.voltage_V = 3"),
                        "it must be a text in quotes"));
}

TEST(MethodFile, ConditioningCannotEndBeforeItsLeastTime) {
    EXPECT_TRUE(refused(with("at_most_h = 48", "at_most_h = 12"), "'conditioning.at_most_h' is 12"));
}

}  // namespace ebbtide::paperwork
