// The law of whole runs: pulses of a linear sheet with both sides, through a sensor, with a short hold, cut
// short.

#include "decay/run_law.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <random>

#include "decay/law.hpp"
#include "support/simulated_run.hpp"

namespace ebbtide::decay {
namespace {

/// Electrode and specimen over a pulse: what the sheet keeps of a charge after a time is `kept`.
struct Pulse {
    std::function<double(double)> kept = [](double t) { return std::exp(-t / 0.8); };
    std::function<double(double)> kept_while_charging =
        {};  ///< when the charging side does not mirror the fall
    double electrode_V = 5000;
    double induced = 0.1;  ///< fraction
    double lead_s = 1, charge_s = 12, fall_s = 6, step_s = 2e-3;
    double noise_V = 10;
    double lag_s = 0;
};

struct Recorded {
    trace::SampleStore specimen, electrode;
    RunTrace trace;
};

Recorded record(const Pulse& pulse, std::uint64_t seed = 20261128) {
    std::mt19937_64 random(seed);
    std::normal_distribution<double> normal;
    Recorded out;
    const auto charging = pulse.kept_while_charging ? pulse.kept_while_charging : pulse.kept;
    const double on_s = pulse.lead_s, off_s = pulse.lead_s + pulse.charge_s;
    // The sensor follows in steps a tenth as long as the samples are apart.
    const int steps = 10;
    const double fine_s = pulse.step_s / steps;
    const double follow = pulse.lag_s > 0 ? 1 - std::exp(-fine_s / pulse.lag_s) : 1;
    double seen_V = 0;
    const auto count = static_cast<std::size_t>((off_s + pulse.fall_s) / pulse.step_s);
    for (std::size_t i = 0; i < count; ++i) {
        double t_s = 0, driven = 0;
        for (int k = 0; k < steps; ++k) {
            t_s = (static_cast<double>(i) + (k + 1.0) / steps - 0.5) * pulse.step_s;
            driven = t_s >= on_s && t_s < off_s ? 1 : 0;
            double charge = 0;
            if (t_s >= on_s) charge = 1 - charging(t_s - on_s);
            if (t_s >= off_s) charge = pulse.kept(t_s - off_s) * (1 - charging(off_s - on_s));
            if (t_s >= off_s && !pulse.kept_while_charging)
                charge = pulse.kept(t_s - off_s) - pulse.kept(t_s - on_s);
            const double true_V = pulse.electrode_V * (pulse.induced * driven + (1 - pulse.induced) * charge);
            seen_V += follow * (true_V - seen_V);
        }
        out.specimen.time_s.push_back(t_s);
        out.specimen.value.push_back(seen_V + pulse.noise_V * normal(random));
        out.electrode.time_s.push_back(t_s);
        out.electrode.value.push_back(pulse.electrode_V * driven);
    }
    trace::RunCutter cutter;
    std::vector<trace::RunSpan> spans;
    cutter.add(out.electrode.value, out.specimen.value, spans);
    cutter.finish(spans);
    if (spans.size() != 1) throw std::runtime_error("not one run");
    const trace::RunSpan& span = spans.front();
    out.trace.specimen = out.specimen.view().slice(span.first, span.end);
    out.trace.electrode = out.electrode.view().slice(span.first, span.end);
    out.trace.starts_charged = span.starts_charged;
    out.trace.sign = span.sign;
    out.trace.base = span.base;
    out.trace.height = span.height;
    const auto time_at = [&](std::uint64_t index) {
        return out.specimen.time_s[std::min<std::size_t>(index, out.specimen.time_s.size() - 1)];
    };
    out.trace.charge_start_s = time_at(span.charge_start);
    out.trace.last_high_s = time_at(span.last_high);
    out.trace.first_low_s = time_at(span.first_low);
    return out;
}

plan::DecayRules to_levels(std::initializer_list<const char*> levels) {
    plan::DecayRules rules;
    for (const char* level : levels) rules.levels.push_back(*plan::parse_level(level));
    return rules;
}

plan::Bench bench_with_lag(double lag_s) {
    plan::Bench bench;
    bench.id = "invented";
    bench.sensor.lag_s = lag_s;
    bench.fixture.induced_fraction_positive = 0.1;
    return bench;
}

struct Read {
    Figures figures;
    const LawCandidate* chosen = nullptr;
    [[nodiscard]] const LawFigures& law() const { return *figures.law; }
    [[nodiscard]] bool flagged(plan::FlagCode code) const {
        return std::ranges::find(figures.flags, code, &plan::Flag::code) != figures.flags.end();
    }
    [[nodiscard]] const fit::Parameter& parameter(std::string_view name) const {
        return *std::ranges::find(chosen->parameters, name, &fit::Parameter::name);
    }
};

Read read(const Recorded& recorded, const plan::DecayRules& rules, const std::optional<plan::Bench>& bench,
          const LawQuestion& question = {}) {
    Read out;
    out.figures = figures_of(recorded.trace, rules, bench);
    add_law(out.figures, recorded.trace, rules, bench, question);
    if (out.figures.law->chosen) out.chosen = &out.figures.law->candidates[*out.figures.law->chosen];
    return out;
}

TEST(LawOfARun, IsFoundWithItsTimeConstantAndItsError) {
    const Recorded recorded = record({});
    const Read any = read(recorded, to_levels({"0.1"}), bench_with_lag(0));
    EXPECT_EQ(any.law().adequate, true) << any.law().doubt;
    EXPECT_EQ(any.law().candidates.size(), law_kinds_under({}).size());
    const Read found = read(recorded, to_levels({"0.5", "0.1"}), bench_with_lag(0), {{LawKind::exponential}});
    ASSERT_NE(found.chosen, nullptr) << found.law().missing;
    EXPECT_EQ(found.law().adequate, true) << found.law().doubt;
    const fit::Parameter& time = found.parameter("time_constant_s");
    ASSERT_TRUE(time.standard_error);
    EXPECT_NEAR(time.value, 0.8, 4 * *time.standard_error);
    EXPECT_LT(*time.standard_error, 0.005);
    EXPECT_FALSE(found.flagged(plan::FlagCode::no_law));
    EXPECT_TRUE(found.law().extrapolated.empty()) << "both levels were reached";
    ASSERT_GT(found.law().residuals.size(), 20u);
    for (const ResidualPoint& point : found.law().residuals)
        EXPECT_LT(std::abs(point.residual_V), 5 * point.u_V) << point.time_s;
}

TEST(LawOfARun, IsDrawnAsItSaysAndClosestTogetherWhereItIsSteep) {
    const Read found =
        read(record({}), to_levels({"0.5", "0.1"}), bench_with_lag(0), {{LawKind::exponential}});
    ASSERT_NE(found.chosen, nullptr) << found.law().missing;
    const auto& curve = found.law().curve;
    ASSERT_GT(curve.size(), 2u);
    EXPECT_EQ(curve.front().time_s, found.law().from_s);
    EXPECT_NEAR(curve.back().time_s, found.law().to_s, 1e-12);
    const double T = found.parameter("time_constant_s").value, V = found.parameter("amplitude_V").value;
    for (const LawPoint& point : curve)
        EXPECT_NEAR(point.law_V, V * std::exp(-point.time_s / T), 1e-9 * V) << point.time_s;
    // Fit for a magnified beginning: a hundredth of the fall has more than a tenth of the points.
    const double early_s = curve.front().time_s + (curve.back().time_s - curve.front().time_s) / 100;
    EXPECT_GT(std::ranges::count_if(curve, [&](const LawPoint& point) { return point.time_s < early_s; }),
              static_cast<std::ptrdiff_t>(curve.size() / 10));
}

TEST(LawOfARun, IsSeenThroughTheSensorsLag) {
    Pulse pulse;
    pulse.lag_s = 0.1;
    const Recorded recorded = record(pulse);
    const LawQuestion exponential{{LawKind::exponential}};
    const Read known = read(recorded, to_levels({"0.1"}), bench_with_lag(0.1), exponential);
    const Read ignored = read(recorded, to_levels({"0.1"}), bench_with_lag(0), exponential);
    ASSERT_TRUE(known.chosen && ignored.chosen);
    EXPECT_EQ(known.law().lag_s, 0.1);
    EXPECT_NEAR(known.parameter("time_constant_s").value, 0.8,
                4 * known.parameter("time_constant_s").standard_error.value());
    EXPECT_EQ(known.law().adequate, true) << known.law().doubt;
    EXPECT_GT(ignored.parameter("time_constant_s").value, known.parameter("time_constant_s").value)
        << "the lag delays the fall";
    EXPECT_EQ(ignored.law().adequate, false);
    EXPECT_TRUE(ignored.flagged(plan::FlagCode::no_law));
}

TEST(LawOfARun, KnowsThatAShortHoldChargesUnevenly) {
    // Slow parts had no time to charge: taken for the fall of a full charge, they would seem smaller.
    Pulse pulse;
    pulse.kept = [](double t) { return 0.5 * std::exp(-t / 0.4) + 0.5 * std::exp(-t / 3); };
    pulse.charge_s = 2;
    pulse.noise_V = 2;
    const Read found =
        read(record(pulse), to_levels({"0.1"}), bench_with_lag(0), {{LawKind::two_exponentials}});
    ASSERT_NE(found.chosen, nullptr);
    ASSERT_TRUE(found.law().hold_s);
    EXPECT_NEAR(*found.law().hold_s, 2, 0.01);
    const double quick_V = found.parameter("amplitude_1_V").value,
                 slow_V = found.parameter("amplitude_2_V").value;
    EXPECT_NEAR(slow_V / quick_V, 1, 0.05);
    EXPECT_NEAR(found.parameter("time_constant_2_s").value, 3, 0.15);
}

TEST(LawOfARun, GoesBeyondTheRecordOnlyWhereTheMethodAllowsIt) {
    Pulse pulse;
    pulse.fall_s = 0.9;  // ends at a third of the charge
    const Recorded recorded = record(pulse);
    const plan::DecayRules strict = to_levels({"0.5", "0.1"});
    plan::DecayRules allowing = strict;
    allowing.extrapolation_allowed = true;
    const LawQuestion exponential{{LawKind::exponential}};
    const Read not_allowed = read(recorded, strict, bench_with_lag(0), exponential);
    ASSERT_EQ(not_allowed.law().extrapolated.size(), 1u);
    EXPECT_EQ(not_allowed.figures.levels[1].status, LevelStatus::not_reached);
    EXPECT_FALSE(not_allowed.figures.levels[1].decay_s);

    const Read allowed = read(recorded, allowing, bench_with_lag(0), exponential);
    const LevelFigure& far = allowed.figures.levels[1];
    ASSERT_EQ(far.status, LevelStatus::extrapolated);
    ASSERT_TRUE(far.decay_s && far.beyond && far.beyond->low_s && far.beyond->high_s);
    // A tenth of the hold reading, of which 0.9 was charge: T ln 9.
    const double truth_s = 0.8 * std::log(9.0);
    EXPECT_LT(*far.beyond->low_s, truth_s);
    EXPECT_GT(*far.beyond->high_s, truth_s);
    EXPECT_NEAR(*far.decay_s, truth_s, 0.05 * truth_s);
    EXPECT_EQ(allowed.figures.levels[0].status, LevelStatus::measured);
}

TEST(LawOfARun, MirrorsItsChargingSideInALinearSheetAndNotBehindASlippingClamp) {
    const Read linear = read(record({}), to_levels({"0.1"}), bench_with_lag(0));
    ASSERT_TRUE(linear.law().sides);
    EXPECT_TRUE(linear.law().sides->agree);
    EXPECT_LT(std::abs(linear.law().sides->difference.value_or(1)), 0.03);

    Pulse slipping;
    slipping.kept_while_charging = [](double t) { return std::exp(-t / 1.1); };
    const Read slow = read(record(slipping), to_levels({"0.1"}), bench_with_lag(0));
    ASSERT_TRUE(slow.law().sides);
    EXPECT_FALSE(slow.law().sides->agree);
    EXPECT_NEAR(slow.law().sides->difference.value_or(0), 1.1 / 0.8 - 1, 0.05);
    EXPECT_TRUE(slow.flagged(plan::FlagCode::sides_differ));
}

TEST(LawOfARun, IsTheSameForTheOtherPolarity) {
    Recorded positive = record({});
    Recorded negative = record({});
    for (double& v : negative.specimen.value) v = -v;
    for (double& v : negative.electrode.value) v = -v;
    // The views of the trace see the changed numbers.
    negative.trace.sign = -1;
    negative.trace.base = -negative.trace.base;
    const Read one = read(positive, to_levels({"0.1"}), {}), other = read(negative, to_levels({"0.1"}), {});
    ASSERT_TRUE(one.chosen && other.chosen);
    EXPECT_DOUBLE_EQ(one.parameter("time_constant_s").value, other.parameter("time_constant_s").value);
}

TEST(LawOfARun, SaysWhyThereIsNone) {
    Recorded recorded = record({});
    Figures figures = figures_of(recorded.trace, to_levels({"0.1"}), {});
    figures.initial_voltage_V.reset();
    EXPECT_EQ(law_figures_of(recorded.trace, figures, {}, {}).missing, "there is no initial voltage");
    figures = figures_of(recorded.trace, to_levels({"0.1"}), {});
    figures.record_s = 1e-3;
    EXPECT_NE(law_figures_of(recorded.trace, figures, {}, {}).missing, "");
}

TEST(LawOfPairs, DoesNotMindTheirOrder) {
    fit::CurveStore curve, backwards;
    for (int i = 0; i < 200; ++i) {
        curve.x.push_back(0.01 * i);
        curve.y.push_back(800 * std::exp(-0.01 * i / 0.7) + 3 * std::sin(37.0 * i * i));
    }
    backwards.x.assign(curve.x.rbegin(), curve.x.rend());
    backwards.y.assign(curve.y.rbegin(), curve.y.rend());
    const std::vector<plan::Level> levels{*plan::parse_level("0.5"), *plan::parse_level("0.01")};
    const auto own = fit::Scatter::from_residuals;
    const LawFigures there = law_figures_of(curve.view(), levels, {}, own),
                     back = law_figures_of(backwards.view(), levels, {}, own);
    ASSERT_TRUE(there.chosen && back.chosen);
    EXPECT_EQ(*there.chosen, *back.chosen);
    ASSERT_EQ(there.extrapolated.size(), 1u) << "a half was reached, a hundredth was not";
    EXPECT_DOUBLE_EQ(there.candidates[*there.chosen].parameters[0].value,
                     back.candidates[*back.chosen].parameters[0].value);
}

}  // namespace
}  // namespace ebbtide::decay
