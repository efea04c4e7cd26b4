// Decay times of curves whose decay times are known from outside: closed forms, recorded circuit simulations.
// The figures that the program checks on the user's computer stand in src/validation/decay_checks.cpp.

#include <gtest/gtest.h>

#include <fstream>
#include <numbers>
#include <sstream>

#include "basis/number_text.hpp"
#include "support/agrees.hpp"
#include "support/known_fall.hpp"

namespace ebbtide {
namespace {

using decay::LevelStatus;
using testing_support::agrees;
using testing_support::figures_of;
using validation::lagged;
using validation::plane_wall_centre;

/// The decay time, less what the estimator itself states as its uncertainty on a noise-free record of this
/// sampling (half a sample of release).
double decay_of(const decay::Figures& figures, std::size_t level) {
    const decay::LevelFigure& figure = figures.levels.at(level);
    EXPECT_EQ(figure.status, LevelStatus::measured) << figure.reason;
    return figure.decay_s.value_or(-1);
}

bool has_flag(const decay::Figures& figures, plan::FlagCode code) {
    for (const plan::Flag& flag : figures.flags)
        if (flag.code == code) return true;
    return false;
}

TEST(DecayOfAResistorAndCapacitor, KeepsItsFiguresFromMicrosecondsToHours) {
    for (const double scale : {1e-4, 1.0, 3600.0}) {
        const auto figures = figures_of({.fraction = [=](double t) { return std::exp(-t / scale); },
                                         .scale_s = scale,
                                         .record_s = 6 * scale},
                                        {"0.1"});
        EXPECT_NEAR(decay_of(figures, 0) / scale, 2.302585, 5e-5) << scale;
    }
}

TEST(DecayOfAStretchedExponential, AgreesWithTheInverseOfItsLaw) {
    // t(p) = T (ln 1/p)^(1/b), worked out in R 4.2.2.
    struct Row {
        double b;
        const char *half, *tenth, *hundredth;
    };
    for (const Row& row :
         {Row{0.6, "0.542887", "4.015067", "12.747044"}, Row{0.8, "0.632458", "2.836414", "6.746167"}}) {
        const auto figures =
            figures_of({.fraction = [&](double t) { return std::exp(-std::pow(t, row.b)); }, .record_s = 40},
                       {"0.5", "0.1", "0.01"});
        // A hundred units of the last digit: half of the sample interval of 5e-4 T, in which the release
        // lies, is 250.
        EXPECT_TRUE(agrees(decay_of(figures, 0), row.half, 100)) << row.b;
        EXPECT_TRUE(agrees(decay_of(figures, 1), row.tenth, 100)) << row.b;
        EXPECT_TRUE(agrees(decay_of(figures, 2), row.hundredth, 200)) << row.b;
    }
}

TEST(DecayOfABackedSheet, WithoutTheElectrodeTheWaitBeforeItsFallIsFlagged) {
    const auto figures = figures_of({.fraction = plane_wall_centre, .with_electrode = false}, {"0.1"});
    EXPECT_TRUE(has_flag(figures, plan::FlagCode::curve_waits));
    EXPECT_TRUE(has_flag(figures, plan::FlagCode::release_unseen));
}

struct Reference {
    std::vector<double> time_s, voltage;
    std::vector<std::pair<double, double>> crossings;  // level, time
};

Reference reference_of(const std::string& name) {
    std::ifstream file(std::string(EBBTIDE_SOURCE_DIR) + "/tests/published/references/" + name);
    Reference reference;
    for (std::string line; std::getline(file, line);) {
        std::istringstream cells(line);
        std::string kind, at, value;
        std::getline(cells, kind, ',');
        std::getline(cells, at, ',');
        std::getline(cells, value, ',');
        if (kind == "voltage") {
            reference.time_s.push_back(*parse_number(at));
            reference.voltage.push_back(*parse_number(value));
        } else if (kind == "crossing") {
            const double level = at == "1/e" ? 1 / std::numbers::e : *parse_number(at);
            reference.crossings.emplace_back(level, *parse_number(value));
        }
    }
    return reference;
}

/// Straight lines between the recorded points; they are dense enough for four digits.
double interpolated(const Reference& reference, double t) {
    const auto above = std::ranges::upper_bound(reference.time_s, t);
    if (above == reference.time_s.begin()) return reference.voltage.front();
    if (above == reference.time_s.end()) return reference.voltage.back();
    const auto i = static_cast<std::size_t>(above - reference.time_s.begin());
    const double share = (t - reference.time_s[i - 1]) / (reference.time_s[i] - reference.time_s[i - 1]);
    return reference.voltage[i - 1] + share * (reference.voltage[i] - reference.voltage[i - 1]);
}

TEST(DecayOfALadder, AgreesWithTheCircuitSimulator) {
    // ngspice 39: 201 cells, both ends earthed, T1 = 1 s; script tests/published/references/ladders.py.
    const Reference reference = reference_of("sheet_ladder.csv");
    ASSERT_GE(reference.crossings.size(), 4u);
    const auto figures = figures_of({.fraction = [&](double t) { return interpolated(reference, t); },
                                     .record_s = reference.time_s.back()},
                                    {"0.5", "1/e", "0.1", "0.01"});
    for (std::size_t i = 0; i < 4; ++i) {
        const auto& [level, time_s] = reference.crossings[i];
        EXPECT_NEAR(figures.levels[i].level.value, level, 1e-9);
        EXPECT_NEAR(decay_of(figures, i), time_s, 5e-4) << level;  // straight lines between points 0.01 apart
    }
}

TEST(DecayOfTheCheckStandard, FallsPromptlyAndThenByItsResistorAndCapacitors) {
    // ngspice 39: 1 Mohm, 100 pF + 3 pF to earth, 2 pF to the clamps: prompt drop 2/105; same script.
    const Reference reference = reference_of("check_standard.csv");
    ASSERT_GE(reference.crossings.size(), 3u);
    const double scale_s = 105e-6;
    const auto figures = figures_of({.fraction =
                                         [&](double t) {
                                             return t < 5e-6 ? (1 - 2.0 / 105) * std::exp(-t / scale_s)
                                                             : interpolated(reference, t);
                                         },
                                     .scale_s = scale_s,
                                     .record_s = reference.time_s.back()},
                                    {"0.5", "1/e", "0.1"});
    ASSERT_TRUE(figures.prompt_drop.has_value());
    EXPECT_NEAR(*figures.prompt_drop, 2.0 / 105, 1e-3);
    for (std::size_t i = 0; i < 3; ++i) {
        const auto found = std::ranges::find_if(reference.crossings, [&](const auto& row) {
            return std::abs(row.first - figures.levels[i].level.value) < 1e-6;
        });
        ASSERT_NE(found, reference.crossings.end());
        EXPECT_NEAR(decay_of(figures, i) / found->second, 1, 5e-4);
    }
}

TEST(SensorLag, IsTakenOffAndWhatIsLeftIsWithinTheBudget) {
    plan::Bench bench;
    bench.sensor.lag_s = 0.1;
    const auto figures = figures_of({.fraction = lagged(0.1)}, {"0.1"}, bench);
    const decay::LevelFigure& tenth = figures.levels.front();
    EXPECT_NEAR(decay_of(figures, 0), std::log(10.0), 2 * *tenth.u_decay_s);
    EXPECT_LT(*tenth.u_decay_s, 0.01);
}

TEST(SensorLag, AsSlowAsTheDecayLeavesItBelowResolution) {
    plan::Bench bench;
    bench.sensor.lag_s = 1.5;
    const auto figures = figures_of({.fraction = lagged(1.5), .record_s = 20}, {"0.1"}, bench);
    EXPECT_EQ(figures.levels.front().status, LevelStatus::below_resolution);
    EXPECT_FALSE(figures.levels.front().decay_s.has_value());
}

TEST(Release, SlowEarthingThroughAForgottenResistorShowsItsTimeConstant) {
    // 220 pF through 1 Gohm: 0.22 s (R times C).
    const double earth_s = 0.22;
    const auto figures = figures_of({.fraction = [](double t) { return std::exp(-t / 3); },
                                     .scale_s = 3,
                                     .record_s = 15,
                                     .electrode_fall_s = earth_s},
                                    {"0.1"});
    ASSERT_TRUE(figures.release_delay_s.has_value());
    EXPECT_TRUE(agrees(*figures.release_delay_s, "0.22"));
    EXPECT_TRUE(has_flag(figures, plan::FlagCode::release_slow));
}

TEST(InducedFraction, OfAnInsulatorThatTookNoChargeIsNeverAFastDecay) {
    // 76 mm gap, 25 mm clamps, sensor at 12.5 mm, enclosure 50 mm behind: 11 % of the clamp voltage is
    // induced (boundary elements and finite differences agree to 1 %).
    plan::Bench bench;
    bench.fixture.induced_fraction_positive = 0.11;
    const auto figures =
        figures_of({.fraction = [](double) { return 0.0; }, .record_s = 3, .initial_V = 550}, {"0.1"}, bench);
    EXPECT_TRUE(has_flag(figures, plan::FlagCode::induced_not_charged));
    EXPECT_NE(figures.levels.front().status, LevelStatus::measured);
}

TEST(InducedFraction, OfASheetThatTookChargeShowsAsThePromptDrop) {
    // Superposition in a linear sheet: the empty fixture's reading and the reading after the release add up
    // to the hold's.
    plan::Bench bench;
    bench.fixture.induced_fraction_positive = 0.11;
    const auto figures =
        figures_of({.fraction = [](double t) { return 0.89 * std::exp(-t); }}, {"0.1"}, bench);
    // One unit of slack: within the sample in which the electrode falls the sheet itself loses 7e-4.
    EXPECT_TRUE(agrees(*figures.prompt_drop, "0.110", 1));
    EXPECT_TRUE(agrees(*figures.accepted_charge, "0.890", 1));
    EXPECT_FALSE(has_flag(figures, plan::FlagCode::induced_not_charged));
}

}  // namespace
}  // namespace ebbtide
