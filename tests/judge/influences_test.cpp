// What the air, the clamping and the material's own unrest add to the budget of a decay time.

#include "judge/influences.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "judge/invented_runs.hpp"
#include "judge/uncertainty_of.hpp"
#include "support/agrees.hpp"

namespace ebbtide::judge {
namespace {

using namespace testing_support;
using ebbtide::testing_support::agrees;

plan::Bench bench(double u_percent, double u_C = 0, double u_clamping = 0) {
    plan::Bench out;
    out.hygrometer.u_relative_humidity_percent = u_percent;
    out.hygrometer.u_temperature_C = u_C;
    out.fixture.u_clamping = u_clamping;
    return out;
}

plan::Method method_with(std::optional<double> humidity, std::optional<double> temperature_C = {}) {
    plan::Method method;
    method.sensitivity = {humidity, temperature_C, "from memory"};
    return method;
}

/// The order of invented_runs.hpp with its item.
plan::Order order_with(plan::Sensitivity own) {
    plan::Order out = order();
    out.items = {{"C", "cloth", "", "clean", std::move(own)}};
    return out;
}

const decay::LevelFigure& figure(const JudgedRun& run) {
    return run.figures->levels.front();
}

const decay::Contribution* line(const JudgedRun& run, std::string_view source) {
    const auto& budget = figure(run).budget;
    const auto found = std::ranges::find(budget, source, &decay::Contribution::source);
    return found == budget.end() ? nullptr : &*found;
}

JudgedRun influenced(const JudgedRun& run, const plan::Order& of, const plan::Method& method,
                     const plan::Bench& on) {
    return with_influences({run}, of, method, on).front();
}

TEST(Humidity, OfOnePercentAtADecadeForTwelveIsAFifthOfTheTime) {
    // ln 10/12 = 0.19: the figure of our own design, whose 12 % RH a decade is from memory.
    const auto run = influenced(measured(key("W1"), 0.5), order(), method_with(12), bench(1));
    ASSERT_NE(line(run, "relative humidity"), nullptr);
    EXPECT_TRUE(agrees(line(run, "relative humidity")->u_s() / 0.5, "0.19"));
    EXPECT_TRUE(agrees(*figure(run).u_decay_s / 0.5, "0.19"));
}

TEST(Humidity, IsSharedByAllRunsAndMakesMoistSheetsFaster) {
    const auto run = influenced(measured(key("W1"), 0.5, 0.001), order(), method_with(12), bench(1));
    const decay::Contribution& humidity = *line(run, "relative humidity");
    EXPECT_EQ(humidity.scope, decay::Scope::bench);
    EXPECT_EQ(humidity.unit, "% RH");
    EXPECT_LT(humidity.sensitivity, 0);
    EXPECT_EQ(figure(run).budget.front().source, "relative humidity") << "largest first";
}

TEST(Sensitivity, OfTheItemGoesBeforeTheMethodFieldByField) {
    const auto own = order_with({60, {}, "mill's study"});
    const auto both = method_with(12, 30);
    EXPECT_EQ(steepness_of("W1", Influence::humidity, own, both)->per_decade, 60);
    EXPECT_EQ(steepness_of("W1", Influence::humidity, own, both)->source, "mill's study");
    EXPECT_TRUE(steepness_of("W1", Influence::humidity, own, both)->of_item);
    EXPECT_EQ(steepness_of("W1", Influence::temperature, own, both)->per_decade, 30);
    EXPECT_FALSE(steepness_of("W1", Influence::temperature, own, both)->of_item);
    EXPECT_FALSE(steepness_of("W1", Influence::temperature, own, method_with(12)));
    EXPECT_EQ(steepness_of("unplanned.csv", Influence::humidity, own, both)->per_decade, 12);
}

TEST(Sensitivity, ThatNobodyStatesGivesNoLineAndASentence) {
    const auto of = order_with({});
    const std::vector<JudgedRun> runs =
        with_influences({measured(key("W1"), 0.5)}, of, method_with({}, 30), bench(1, 0.5));
    EXPECT_EQ(line(runs.front(), "relative humidity"), nullptr);
    EXPECT_NE(line(runs.front(), "temperature"), nullptr);
    const auto missing = missing_influences(runs, of, method_with({}, 30), bench(1, 0.5));
    EXPECT_TRUE(mentions(missing, "Humidity is not in the budget: neither item C nor the method states"));
    EXPECT_TRUE(mentions(missing, "Clamping is not in the budget"));
    EXPECT_TRUE(mentions(missing, "Repeatability is not in the budget"));
    EXPECT_FALSE(mentions(missing, "Temperature"));
}

TEST(Sensitivity, MissingIsSaidOnlyOfWhatWasMeasured) {
    const std::vector<JudgedRun> runs =
        with_influences({not_reached(key("W1"), 2)}, order(), method_with({}), bench(1));
    EXPECT_TRUE(missing_influences(runs, order(), method_with({}), bench(1)).empty());
}

TEST(Bench, ThatIsNotNamedLeavesTheBudgetToTheInstrumentAndSaysSo) {
    const auto runs = with_influences({measured(key("W1"), 0.5, 0.01)}, order(), method_with(12), {});
    EXPECT_TRUE(agrees(*figure(runs.front()).u_decay_s, "0.010"));
    EXPECT_TRUE(mentions(missing_influences(runs, order(), method_with(12), {}), "names no bench"));
}

TEST(Air, ErrorsOfOneInstrumentAreCorrelatedAsTheBenchStates) {
    plan::Bench on = bench(1, 1);
    on.hygrometer.correlation = -1;
    // Equal effects, a degree and a percent each a decade for 20, of opposite errors: they cancel.
    const auto run = influenced(measured(key("W1"), 0.5), order(), method_with(20, 20), on);
    EXPECT_LT(*figure(run).u_decay_s, 1e-9);
    on.hygrometer.correlation = 1;  // and add up: 2 * 0.5 s * ln 10/20
    const auto alike = influenced(measured(key("W1"), 0.5), order(), method_with(20, 20), on);
    EXPECT_TRUE(agrees(*figure(alike).u_decay_s, "0.11513"));
}

TEST(Clamping, IsAPartOfTheTimeSharedByTheSeries) {
    const auto run = influenced(measured(key("W1"), 0.5), order(), {}, bench(0, 0, 0.02));
    EXPECT_TRUE(agrees(line(run, "clamping")->u_s(), "0.0100"));
    EXPECT_EQ(line(run, "clamping")->scope, decay::Scope::series);
}

// Replicates 0.48, 0.50, 0.52 s: s = 4 % of the mean. With 3 % of the run's own in each, sqrt(0.04^2 -
// 0.03^2) is left (by hand; the run's own 3 % are of each run's value, so the digits are few).
std::vector<JudgedRun> three(double own_part) {
    std::vector<JudgedRun> runs;
    int replicate = 0;
    for (const double decay_s : {0.48, 0.50, 0.52})
        runs.push_back(measured(key("W1", ++replicate), decay_s, own_part * decay_s, 0.1 * decay_s));
    return runs;
}

TEST(Replicates, AddWhatTheRunsOwnNoiseDoesNotExplain) {
    const auto runs = with_influences(three(0.03), order(), {}, {});
    const decay::Contribution* replicates = line(runs[1], "replicates");
    ASSERT_NE(replicates, nullptr);
    EXPECT_EQ(replicates->scope, decay::Scope::run);
    EXPECT_TRUE(agrees(replicates->u, "0.02646"));  // sqrt(0.0016 - 0.0009); the bench's part is no noise
    EXPECT_TRUE(agrees(replicates->u_s(), "0.01323"));
    // Two degrees of freedom for s^2, fewer for what is left of it: 2 (7/16)^2.
    EXPECT_TRUE(agrees(*replicates->degrees_of_freedom, "0.3828"));
}

TEST(Replicates, ThatScatterLessThanTheirNoiseAddNothing) {
    EXPECT_EQ(line(with_influences(three(0.05), order(), {}, {})[0], "replicates"), nullptr);
}

TEST(Replicates, ArePooledOverTheSeriesOfTheOrder) {
    // s 4 % with 2 degrees of freedom, s 0 with 1: sqrt(2/3) of 4 %.
    auto runs = three(0);
    runs.push_back(measured(key("W2", 1), 0.9));
    runs.push_back(measured(key("W2", 2), 0.9));
    runs.push_back(measured(key("W3", 1), 7));  // alone: says nothing of replicates, but gets the line
    const auto judged = with_influences(runs, order(), {}, {});
    EXPECT_TRUE(agrees(line(judged[0], "replicates")->u, "0.03266"));
    EXPECT_TRUE(agrees(line(judged[5], "replicates")->u_s(), "0.2286"));
    EXPECT_TRUE(agrees(*line(judged[0], "replicates")->degrees_of_freedom, "3.000"));
}

TEST(Replicates, OfRunsThatDoNotCountSayNothing) {
    auto runs = three(0);
    runs.push_back(flagged(measured(key("W1", 4), 5), plan::FlagCode::set_aside));
    EXPECT_TRUE(agrees(line(with_influences(runs, order(), {}, {})[0], "replicates")->u, "0.0400"));
}

TEST(Replicates, OfOtherFacesAndPolaritiesAreOtherSeries) {
    auto back = measured(key("W1"), 0.9);
    back.key.face = "back";
    const auto negative = measured(key("W1", 1, plan::Polarity::negative), 0.9);
    const auto runs = with_influences({measured(key("W1"), 0.5), back, negative}, order(), {}, {});
    EXPECT_EQ(line(runs[0], "replicates"), nullptr);
}

TEST(Replicates, EstimatedOnceKeepTheirFewDegreesInTheMean) {
    const auto runs = with_influences(three(0), order(), {}, {});
    const auto sum = sum_of(budget_of_mean(std::vector<std::size_t>{0, 1, 2}, runs, level_of("0.1")));
    const auto one = sum_of(figure(runs[1]).budget);
    EXPECT_TRUE(agrees(*one.degrees_of_freedom, "105.1")) << "most of u is the bench's 10 %";
    EXPECT_GT(*sum.degrees_of_freedom, 105.1);
    std::vector<decay::Contribution> only{*line(runs[1], "replicates")};
    EXPECT_TRUE(agrees(sum_of(only).expanded_u_s, "0.0861"));  // Student's 4.303 for 2, times 4 % of 0.5 s
}

TEST(Mean, OfSpecimensAveragesTheirClampingButNotTheAir) {
    // Two specimens, two faces: four series. 2 % clamping over sqrt(4), 19.19 % air in full, of 0.5 s.
    std::vector<JudgedRun> runs{measured(key("W1"), 0.5), measured(key("W2"), 0.5), measured(key("W1"), 0.5),
                                measured(key("W2"), 0.5)};
    runs[2].key.face = runs[3].key.face = "back";
    const auto judged = with_influences(runs, order(), method_with(12), bench(1, 0, 0.02));
    const auto mean = budget_of_mean(std::vector<std::size_t>{0, 1, 2, 3}, judged, level_of("0.1"));
    ASSERT_EQ(mean[0].source, "relative humidity");
    EXPECT_TRUE(agrees(mean[0].u_s(), "0.09594"));
    ASSERT_EQ(mean[1].source, "clamping");
    EXPECT_TRUE(agrees(mean[1].u_s(), "0.0050"));
}

}  // namespace
}  // namespace ebbtide::judge
