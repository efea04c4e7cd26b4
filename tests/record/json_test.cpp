// Records as text: canonical, and never holding a number that is none.

#include "record/json.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <cmath>
#include <limits>
#include <set>

#include "report/invented_laws.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::testing_support;
using nlohmann::json;

TEST(CanonicalText, SortsKeysIndentsByTwoAndEndsALine) {
    EXPECT_EQ(record::canonical_text({{"b", 1}, {"a", {{"d", nullptr}, {"c", "x"}}}}),
              "{\n  \"a\": {\n    \"c\": \"x\",\n    \"d\": null\n  },\n  \"b\": 1\n}\n");
}

TEST(CanonicalText, GivesADoubleItsShortestText) {
    EXPECT_EQ(record::canonical_text({{"a", 0.1}}), "{\n  \"a\": 0.1\n}\n");
    EXPECT_EQ(record::canonical_text({{"a", 1 / std::exp(1.0)}}), "{\n  \"a\": 0.36787944117144233\n}\n");
}

TEST(CanonicalText, TakesNoNumberThatIsNone) {
    constexpr double infinity = std::numeric_limits<double>::infinity();
    for (const double none : {std::numeric_limits<double>::quiet_NaN(), infinity, -infinity}) {
        const json inner = {{"b", none}};
        EXPECT_THROW((void)record::canonical_text(inner), std::logic_error);
        const json outer = {{"a", json::array({1, inner})}};
        try {
            (void)record::canonical_text(outer);
            FAIL();
        } catch (const std::logic_error& fault) {
            EXPECT_NE(std::string(fault.what()).find("/a/1/b"), std::string::npos) << fault.what();
        }
    }
}

TEST(CanonicalText, KeepsHostileTextReadable) {
    const std::string hostile =
        std::string("nul \0", 5) + "quote\" back\\slash \n\r\t \x01\x7F </script> 電圧";
    const std::string text = record::canonical_text({{"name", hostile + " \xFF\xFE\xC3"}});
    const json back = json::parse(text);
    const std::string name = back["name"];
    EXPECT_TRUE(name.starts_with(hostile));
    EXPECT_NE(name.find("\xEF\xBF\xBD"), std::string::npos) << "bytes that are no UTF-8 become U+FFFD";
    EXPECT_EQ(record::canonical_text(back), text);
}

RC_GTEST_PROP(CanonicalText, ReadsBackTheSameDoubles, (const std::vector<double>& values)) {
    json document = json::array();
    for (const double value : values)
        if (std::isfinite(value)) document.push_back(value);
    const std::string text = record::canonical_text(document);
    RC_ASSERT(json::parse(text) == document);
    RC_ASSERT(record::canonical_text(json::parse(text)) == text);
}

TEST(LawJson, HoldsNoNumberThatIsNone) {
    decay::LawFigures law = invented_law(0.2, 5000, 1, 3);
    constexpr double infinity = std::numeric_limits<double>::infinity();
    const double none = std::numeric_limits<double>::quiet_NaN();
    // A search that went astray leaves such numbers; what is written of them is null.
    law.candidates[0].parameters[0].value = none;
    law.candidates[0].parameters[1].standard_error = infinity;
    law.candidates[0].rss = none;
    law.candidates[0].aicc = -infinity;
    law.candidates[0].weight = none;
    law.effective_samples = infinity;
    law.residuals[0].residual_V = none;
    law.extrapolated = {{plan::parse_level("0.1").value(), none, 1.0, infinity}};
    law.sides = decay::PulseSides{none, 1, infinity, none, false};
    const json written = json::parse(record::canonical_text(record::json_of(law)));
    const json& model = written["models"][0];
    EXPECT_TRUE(model["parameters"]["amplitude_V"].is_null());
    EXPECT_TRUE(model["standard_errors"]["time_constant_s"].is_null());
    for (const char* key : {"rss", "aicc", "weight", "effective_samples"})
        EXPECT_TRUE(model[key].is_null()) << key;
    EXPECT_TRUE(written["residuals"][0]["residual_V"].is_null());
    EXPECT_TRUE(written["extrapolated"][0]["high_s"].is_null());
    EXPECT_EQ(written["extrapolated"][0]["low_s"], 1.0);
    EXPECT_FALSE(written["sides"]["agree"].get<bool>());
}

TEST(LawJson, NamesParametersAndTheirStandings) {
    const json law = record::json_of(invented_law(0.2, 5000, 0, 3));
    EXPECT_EQ(law["chosen"], "exponential");
    EXPECT_EQ(law["adequate"], true);
    EXPECT_EQ(law["models"][0]["parameters"]["time_constant_s"], 0.2);
    EXPECT_EQ(law["models"][0]["standings"]["time_constant_s"], "free");
    EXPECT_EQ(law["models"][1]["standings"]["time_constant_2_s"], "not_determined");
    EXPECT_TRUE(law["models"][1]["standard_errors"]["time_constant_2_s"].is_null());
    EXPECT_TRUE(law["models"][1]["aicc"].is_null());
    EXPECT_TRUE(law["hold_s"].is_null());
    EXPECT_TRUE(record::json_of(decay::LawFigures{})["chosen"].is_null());
}

TEST(FiguresJson, HoldTheLawAndTheDraws) {
    const report::ReportInput input = report_with_laws();
    const json figures = record::json_of(*input.record.judgement.runs[0].figures);
    EXPECT_EQ(figures["law"]["chosen"], "exponential");
    EXPECT_EQ(figures["levels"][0]["monte_carlo"]["trials"], 100'000);
    EXPECT_TRUE(figures["levels"][0]["extrapolated"].is_null());
    EXPECT_TRUE(record::json_of(*invented_report().record.judgement.runs[0].figures)["law"].is_null());
}

TEST(SettingsHash, ChangesWithEverySetting) {
    const record::OrderRecord invented = invented_report().record;
    const auto hash_of = [](const record::OrderRecord& r) {
        return record::settings_hash(r.order, r.method, r.specification, r.bench);
    };
    std::set<std::string> hashes{hash_of(invented)};
    EXPECT_EQ(hashes.begin()->size(), 64u);
    std::size_t changes = 0;
    const auto change = [&](auto&& alter) {
        record::OrderRecord changed = invented;
        alter(changed);
        ++changes;
        EXPECT_TRUE(hashes.insert(hash_of(changed)).second) << "change " << changes;
    };
    using R = record::OrderRecord;
    change([](R& s) { s.order.id += "x"; });
    change([](R& s) { s.order.revision = 2; });
    change([](R& s) { s.order.decision_rule.agreed += "x"; });
    change([](R& s) { s.order.specimens[0].direction = "filling"; });
    change([](R& s) { s.order.specimens[0].state = "aged"; });
    change([](R& s) { s.order.conditions[0].relative_humidity_percent = 12.2; });
    change([](R& s) { s.order.conditions[0].conditioned_to.reset(); });
    change([](R& s) { s.order.tested_to.day += 1; });
    change([](R& s) { s.bench->drive = plan::DriveLimits{}; });
    change([](R& s) {
        s.bench->drive = plan::DriveLimits{};
        s.bench->drive->rest_s = 3;
    });
    change([](R& s) { s.bench->check = plan::CheckLimits{}; });
    change([](R& s) { s.bench->setup = {"Earth first."}; });
    change([](R& s) { s.bench->fixture_calibrations.emplace_back(); });
    plan::PlannedRecording recording;
    recording.file = "a.csv";
    const auto with = [&](auto&& alter) {
        plan::PlannedRecording altered = recording;
        alter(altered);
        change([&](R& s) { s.order.recordings = {altered}; });
    };
    with([](auto&) {});
    with([](auto& r) { r.channels.specimen = "U"; });
    with([](auto& r) { r.channels.electrode = "U"; });
    with([](auto& r) { r.channels.marker = "U"; });
    with([](auto& r) { r.channels.time = "U"; });
    with([](auto& r) { r.sample_interval_s = 0.001; });
    const plan::RunKey key{"W1", "front", "dry", plan::Polarity::positive, 1};
    with([&](auto& r) { r.runs = {{key, "", ""}}; });
    with([&](auto& r) { r.runs = {{key, "door", ""}}; });
    with([&](auto& r) { r.runs = {{key, "", "door"}}; });
    with([&](auto& r) { r.runs = {{key, "", "", true}}; });
    with([&](auto& r) { r.runs = {{{"W1", "front", "dry", plan::Polarity::negative, 1}, "", ""}}; });
    with([&](auto& r) { r.runs = {{{"W1", "front", "dry", plan::Polarity::positive, 2}, "", ""}}; });
    change([](R& s) { s.method.edition += "x"; });
    change([](R& s) { s.method.apparatus = plan::Apparatus::charged_plate; });
    change([](R& s) { s.method.sensitivity.humidity_percent_per_decade = 13; });
    change([](R& s) { s.method.sensitivity.temperature_C_per_decade = 31; });
    change([](R& s) { s.method.sensitivity.source = "another"; });
    change([](R& s) { s.order.items[0].sensitivity.humidity_percent_per_decade = 13; });
    change([](R& s) { s.bench->fixture.u_clamping = 0.03; });
    change([](R& s) { s.bench->fixture.clamp_length_mm = 30; });
    change([](R& s) { s.bench->hygrometer.correlation = 0.1; });
    change([](R& s) { s.method.replicates += 1; });
    change([](R& s) { s.method.specimens += 1; });
    change([](R& s) { s.method.reference_run = true; });
    change([](R& s) { s.method.decay.from = *plan::parse_level("1000 V"); });
    change([](R& s) { s.method.decay.clock = plan::DecayRules::Clock::field_step; });
    change([](R& s) { s.order.supplied = {{"shielding_factor", "W1", 0.3, 0.01, "x"}}; });
    change([](R& s) { s.specification.demands.at(0).any_of.at(0).grades = {{"A", 0.1}}; });
    change([](R& s) { s.specification.demands.at(0).any_of.at(0).supplied = {"shielding_factor", 0.2}; });
    change([](R& s) { s.method.decay.levels.pop_back(); });
    change([](R& s) { s.method.decay.levels[0].value = 0.51; });
    change([](R& s) { s.method.decay.basis = plan::InitialBasis::nominal; });
    change([](R& s) { s.method.decay.basis_window_s = 0.5; });
    change([](R& s) { s.method.decay.basis_guard_s = 0.05; });
    change([](R& s) { s.method.decay.basis_bandwidth_s = 0.05; });
    change([](R& s) { s.method.decay.stated_initial_V = 5000; });
    change([](R& s) { s.method.decay.zero_floor = {plan::ZeroFloor::Kind::fraction, 0.01}; });
    change([](R& s) { s.method.decay.zero_floor = {plan::ZeroFloor::Kind::absolute_V, 0.01}; });
    change([](R& s) { s.method.decay.residual_limit_V = 50; });
    change([](R& s) { s.method.decay.zero_limit_V = 50; });
    change([](R& s) { s.method.decay.extrapolation_allowed = true; });
    change([](R& s) { s.method.conditioning.at_most_h = 48; });
    change([](R& s) { s.method.conditioning.temperature_C->plus_minus += 1; });
    change([](R& s) { s.method.charging.minimum_initial_V = 4000; });
    change([](R& s) { s.method.charging.minimum_accepted_fraction = 0.8; });
    change([](R& s) { s.method.charging.polarities = "positive"; });
    change([](R& s) { s.method.consequences[plan::FlagCode::spikes] = plan::Consequence::void_run; });
    change([](R& s) { s.method.consequences[plan::FlagCode::spikes] = plan::Consequence::note; });
    change([](R& s) { s.specification.demands[0].any_of[0].limit_s = 0.6; });
    change([](R& s) { s.specification.demands[0].any_of[0].comparison = plan::Comparison::less; });
    change([](R& s) { s.specification.demands[0].any_of[0].statistic = plan::Statistic::each_run; });
    change([](R& s) { s.specification.demands[0].any_of[0].group_by.pop_back(); });
    change([](R& s) { s.specification.demands.pop_back(); });
    change([](R& s) { s.bench.reset(); });
    change([](R& s) { s.bench->sensor.scale.gain_positive *= 1 + 1e-15; });
    change([](R& s) { s.bench->sensor.scale.gain_negative += 1; });
    change([](R& s) { s.bench->sensor.scale.offset = 0.01; });
    change([](R& s) { s.bench->sensor.scale.full_scale_V.reset(); });
    change([](R& s) { s.bench->sensor.lag_s += 1e-6; });
    change([](R& s) { s.bench->sensor.noise_V = 7; });
    change([](R& s) { s.bench->electrode.gain_positive = 2; });
    change([](R& s) { s.bench->fixture.induced_fraction_negative.reset(); });
    change([](R& s) { s.bench->recorder.u_channel_skew_s = 0; });
    change([](R& s) { s.bench->hygrometer.u_relative_humidity_percent = 1; });
    change([](R& s) { s.bench->channels.specimen = "U"; });
    change([](R& s) { s.bench->sample_interval_s = 0.001; });
    change([](R& s) { s.bench->lead_in_is_zero_state = false; });
    change([](R& s) { s.bench->calibrations[0].due.year += 1; });
    EXPECT_EQ(hashes.size(), changes + 1);
}

}  // namespace
