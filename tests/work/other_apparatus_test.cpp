// Orders on each apparatus, from recordings whose truth is known to the statement; and the pairings that are
// refused.

#include <gtest/gtest.h>

#include <cmath>
#include <fstream>

#include "support/field_step_run.hpp"
#include "support/program.hpp"
#include "support/simulated_run.hpp"
#include "work/judge_order.hpp"
#include "work/listen.hpp"
#include "work/report_input.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::testing_support;

std::string csv(const trace::SampleStore& specimen, const trace::SampleStore* electrode = nullptr) {
    std::string text = electrode ? "time (s),specimen (V),electrode (V)\n" : "time (s),specimen (V)\n";
    for (std::size_t i = 0; i < specimen.value.size(); ++i) {
        text += std::to_string(specimen.time_s[i]) + ',' + std::to_string(specimen.value[i]);
        if (electrode) text += ',' + std::to_string(electrode->value[i]);
        text += '\n';
    }
    return text;
}

struct Documents {
    std::string apparatus = "clamp_discharge";
    std::string method, method_edition, specification, specification_edition;
    std::string rows;  ///< what comes after [[conditions]]
    std::string rule = "kind = \"simple\"";
    double percent = 50, celsius = 23;
    bool bench = true;
};

/// A folder with an order of its own invention.
class OtherApparatus : public ::testing::Test {
  protected:
    void write(const std::string& name, const std::string& text) { write_bytes(folder_ / name, text); }

    void write_documents(const Documents& d) {
        if (d.bench)
            write("bench.toml",
                  "schema = \"ebbtide.bench/1\"\nid = \"bench-7\"\nrevision = \"1\"\napparatus = \"" +
                      d.apparatus +
                      "\"\n[sensor]\nname = \"field sensor\"\ngain = 1\nu_gain = 0.01\nlag_s = 0\n"
                      "u_lag_s = 0\nu_linearity = 0.002\nresolution_s = 0.005\n[electrode]\n"
                      "gain = 1\nu_gain = 0.005\n[fixture]\ninduced_fraction_positive = 0.1\n"
                      "induced_fraction_negative = 0.1\nu_induced_fraction = 0.01\n[recorder]\n"
                      "u_time_base = 1e-5\nu_channel_skew_s = 0\nlead_in_is_zero_state = true\n"
                      "[hygrometer]\nname = \"hygrometer\"\nu_relative_humidity_percent = 0.5\n"
                      "u_temperature_C = 0.2\n");
        write("order.toml",
              "schema = \"ebbtide.order/1\"\nid = \"TP-31\"\ntitle = \"Decay\"\nrevision = 1\n" +
                  std::string(d.bench ? "bench = \"bench.toml\"\n" : "") +
                  "[laboratory]\nname = \"Tern Point Materials Laboratory\"\naddress = \"1 Slipway\"\n"
                  "[customer]\nname = \"Halyard\"\naddress = \"2 Quay\"\n[method]\nfile = \"" +
                  d.method + "\"\nedition = \"" + d.method_edition + "\"\n[specification]\nfile = \"" +
                  d.specification + "\"\nedition = \"" + d.specification_edition + "\"\n[decision_rule]\n" +
                  d.rule +
                  "\nagreed = \"by letter\"\n[dates]\ntested_from = 2026-09-14\n"
                  "tested_to = 2026-09-15\n[people]\ntested_by = \"T\"\n"
                  "[[item]]\nid = \"I\"\ndescription = \"sheet\"\ncondition_on_receipt = \"clean\"\n"
                  "[[specimen]]\nid = \"S1\"\nitem = \"I\"\nstate = \"as received\"\n[[conditions]]\nid = "
                  "\"air\"\n"
                  "relative_humidity_percent = " +
                  std::to_string(d.percent) + "\ntemperature_C = " + std::to_string(d.celsius) +
                  "\nconditioned_from = 2026-09-12T08:00:00Z\nconditioned_to = 2026-09-14T08:00:00Z\n" +
                  d.rows);
    }
    [[nodiscard]] Result<work::JudgedOrder> judged() const {
        return work::judge_order(*work::folder_files(folder_.path()), Instant{});
    }
    judge::Judgement judgement() const {
        auto order = judged();
        EXPECT_TRUE(order.ok()) << (order.ok() ? "" : order.error().text());
        return order.ok() ? order->record.judgement : judge::Judgement{};
    }
    void expect_refused(std::initializer_list<const char*> parts) const {
        const auto order = judged();
        ASSERT_FALSE(order.ok());
        for (const char* part : parts)
            EXPECT_NE(order.error().text().find(part), std::string::npos)
                << part << ": " << order.error().text();
        EXPECT_FALSE(order.error().remedy.empty());
    }

    TemporaryFolder folder_;
};

std::string runs_of(const std::string& file, const std::string& runs) {
    return "[[recording]]\nfile = \"" + file + "\"\nruns = [" + runs + "]\n";
}
const std::string front = "{ specimen = \"S1\", face = \"front\", conditions = \"air\", polarity = \"+\" }";
const std::string empty_fixture = "{ without_specimen = true, conditions = \"air\", polarity = \"+\" }";

Documents half_life(double percent = 35) {
    Documents d;
    d.apparatus = "corona_charging";
    d.method = "gbt-12703-1-half-life-method";
    d.specification = "gbt-12703-1-half-life-specification";
    d.method_edition = d.specification_edition = "2008, from memory";
    d.rows = runs_of("a.csv", front);
    d.percent = percent;
    d.celsius = 20;
    return d;
}

TEST_F(OtherApparatus, CoronaChargingSortsAHalfLifeIntoItsClass) {
    for (const auto& [scale_s, grade] : {std::pair{1.0, "A"}, std::pair{5.0, "B"}, std::pair{15.0, "C"}}) {
        RunPlan plan{.hold_s = 30, .fall_s = 4 * scale_s, .samples = 12000, .initial_V = 2000};
        plan.fall = [scale_s = scale_s](double t) { return std::exp(-t / scale_s); };
        write("a.csv", csv(simulate(plan, 1)));
        write_documents(half_life());
        const judge::Judgement result = judgement();
        EXPECT_EQ(result.statement, plan::Conformity::pass) << grade;
        const judge::Finding& finding = result.requirements.at(0).findings.at(0);
        EXPECT_NEAR(*finding.value_s, scale_s * std::log(2.0), 0.01 * scale_s);
        EXPECT_EQ(finding.grade, grade);
    }
}

TEST_F(OtherApparatus, CoronaChargingFailsBeyondTheLastClass) {
    RunPlan plan{.hold_s = 30, .fall_s = 80, .samples = 12000, .initial_V = 2000};
    plan.fall = [](double t) { return std::exp(-t / 30); };
    write("a.csv", csv(simulate(plan, 1)));
    write_documents(half_life());
    const judge::Judgement result = judgement();
    EXPECT_EQ(result.statement, plan::Conformity::fail);
    EXPECT_EQ(result.requirements.at(0).findings.at(0).grade, "");
}

const std::string plate_specification = R"(schema = "ebbtide.specification/1"
id = "plate"
edition = "1"
title = "A contract's limit"
source = "the contract"
notice = "Replaces nothing"
apparatus = "charged_plate"
[[demand]]
id = "d"
[[demand.any_of]]
id = "plate-each"
clause = "contract"
level = "100 V"
statistic = "each_run"
comparison = "<="
limit_s = 2.5
)";

TEST_F(OtherApparatus, AChargedPlateIsTimedFromOneThousandToOneHundredVolts) {
    // From 1100 V on: 2.303 s between the two levels, 2.398 s from the release.
    RunPlan plan{.fall_s = 6, .samples = 14000, .initial_V = 1100};
    write("a.csv", csv(simulate(plan, 1)));
    write("own.toml", plate_specification);
    Documents d;
    d.apparatus = "charged_plate";
    d.method = "iec-61340-2-1-plate-method";
    d.method_edition = "2015, from memory";
    d.specification = "own.toml";
    d.specification_edition = "1";
    d.rows = runs_of("a.csv", front);
    write_documents(d);
    const judge::Judgement result = judgement();
    EXPECT_EQ(result.statement, plan::Conformity::pass);
    EXPECT_NEAR(*result.requirements.at(0).findings.at(0).value_s, std::log(10.0), 2e-3);
}

class Induction : public OtherApparatus {
  protected:
    Documents documents(const std::string& more = "") {
        Documents d;
        d.apparatus = "induction_electrode";
        d.method = "en-1149-3-induction-method";
        d.method_edition = "method 2, from memory";
        d.specification = "en-1149-5-specification";
        d.specification_edition = "EN 1149-5";
        d.percent = 25;
        d.rows = more;
        return d;
    }
    void record(const std::string& name, const FieldStepPlan& plan) {
        const FieldStepRecord made = simulate(plan, 3);
        write(name, csv(made.specimen, &made.electrode));
    }
    /// The empty fixture reads 1000 V for three seconds.
    void record_empty_fixture() {
        record("empty.csv",
               {.record_s = 5, .peak_V = 1000, .noise_V = 1, .back_after_s = 3, .fall = [](double) {
                    return 1.0;
                }});
    }
};

FieldStepPlan slow(double scale_s) {
    return {.record_s = 2 * scale_s, .step_s = 5e-3, .noise_V = 1, .fall = [=](double t) {
                return std::exp(-t / scale_s);
            }};
}

TEST_F(Induction, RefersTheHalfToTheRunWithoutSpecimenAndNeverJudgesThat) {
    record_empty_fixture();
    record("a.csv", slow(6));  // 800 V falls to 500 V in 6 ln 1.6 = 2.82 s
    write_documents(documents(runs_of("empty.csv", empty_fixture) + runs_of("a.csv", front)));
    const judge::Judgement result = judgement();
    EXPECT_EQ(result.statement, plan::Conformity::pass);
    ASSERT_EQ(result.runs.size(), 2u);
    EXPECT_TRUE(result.runs[0].without_specimen);
    EXPECT_FALSE(result.runs[0].counts);
    EXPECT_NEAR(*result.runs[0].figures->initial_voltage_V, 1000, 1);
    ASSERT_EQ(result.requirements.at(0).findings.size(), 1u);
    EXPECT_NEAR(*result.requirements[0].findings[0].value_s, 6 * std::log(1.6), 0.05);
    EXPECT_NEAR(*result.runs[1].figures->initial_voltage_V, 1000, 1);
    // The shielding factor was not supplied and is not needed: the other alternative is met.
    EXPECT_EQ(result.requirements.at(1).outcome, plan::Conformity::void_);
    for (const std::string& reason : result.reasons) EXPECT_EQ(reason.find("shielding"), std::string::npos);
}

TEST_F(Induction, RefersToARunWithoutSpecimenThatIsHeardLive) {
    record_empty_fixture();
    record("a.csv", slow(6));
    write_documents(documents(""));
    std::string text = bytes_of(folder_ / "order.toml");
    write("order.toml", text.insert(text.find("[laboratory]"), "live = \"live.toml\"\n"));
    auto order = work::LiveOrder::open({folder_.path(), "", "", Instant{}});
    ASSERT_TRUE(order) << order.error().text();
    EXPECT_TRUE((*order)->lacks_reference());
    std::vector<work::RunRecorded> heard;
    (*order)->expect_references({plan::Mounted::nothing});
    for (const char* file : {"empty.csv", "a.csv"}) {
        recording::ReadOptions read;
        (*order)->name_channels(read);
        auto source = work::open_live_source({"replay:" + (folder_ / file) + "?pace=0", false, read, {}});
        ASSERT_TRUE(source) << source.error().text();
        work::ListenRequest request{"test", (*order)->measure_request(), false, [] { return Instant{}; }};
        const auto ended = work::listen(*source, request, order->get(), {[&](const work::LiveEvent& event) {
            if (const auto* run = std::get_if<work::RunRecorded>(&event)) heard.push_back(*run);
        }});
        ASSERT_TRUE(ended) << ended.error().text();
    }
    EXPECT_FALSE((*order)->lacks_reference());
    ASSERT_EQ(heard.size(), 2u);
    EXPECT_EQ(heard[0].reference, plan::Mounted::nothing);
    EXPECT_TRUE(heard[1].counts);
    EXPECT_EQ(heard[1].place->specimen, "S1");
    EXPECT_NEAR(heard[1].run.figures.initial_voltage_V.value_or(0), 1000, 1);
    EXPECT_NEAR(heard[1].run.figures.levels.at(0).decay_s.value_or(0), 6 * std::log(1.6), 0.05);

    const judge::Judgement result = judgement();
    EXPECT_EQ(result.statement, plan::Conformity::pass);
    ASSERT_EQ(result.runs.size(), 2u);
    EXPECT_TRUE(result.runs[0].without_specimen);
    EXPECT_EQ(result.runs[1].run_id, heard[1].run.run_id);
}

TEST_F(Induction, WithoutARunWithoutSpecimenIsVoidForThatReason) {
    record("a.csv", slow(6));
    write_documents(documents(runs_of("a.csv", front)));
    const judge::Judgement result = judgement();
    EXPECT_EQ(result.statement, plan::Conformity::void_);
    const bool said = std::ranges::any_of(result.reasons, [](const std::string& reason) {
        return reason.find("without specimen") != std::string::npos;
    });
    EXPECT_TRUE(said);
}

TEST_F(Induction, OfTheOtherPolarityIsNoReference) {
    record("empty.csv", {.record_s = 5,
                         .field_V = -1200,
                         .peak_V = -1000,
                         .noise_V = 1,
                         .back_after_s = 3,
                         .fall = [](double) { return 1.0; }});
    record("a.csv", slow(6));
    write_documents(documents(runs_of("empty.csv", empty_fixture) + runs_of("a.csv", front)));
    EXPECT_EQ(judgement().statement, plan::Conformity::void_);
}

TEST_F(Induction, PassesByAShieldingFactorWhereTheHalfDecayIsTooSlow) {
    record_empty_fixture();
    record("a.csv", slow(20));  // 9.4 s
    const std::string recordings = runs_of("empty.csv", empty_fixture) + runs_of("a.csv", front);
    write_documents(documents(recordings));
    const judge::Judgement missing = judgement();
    EXPECT_EQ(missing.statement, plan::Conformity::void_) << "a factor that was not supplied might do";
    EXPECT_NE(missing.requirements.at(1).findings.at(0).reason.find("[[supplied]]"), std::string::npos);

    const auto supplied = [](const char* value) {
        return std::string("[[supplied]]\nquantity = \"shielding_factor\"\nspecimen = \"S1\"\nvalue = ") +
               value + "\nu = 0.02\nsource = \"this bench, peak over the level without specimen\"\n";
    };
    write_documents(documents(recordings + supplied("0.31")));
    EXPECT_EQ(judgement().statement, plan::Conformity::pass);
    write_documents(documents(recordings + supplied("0.11")));
    EXPECT_EQ(judgement().statement, plan::Conformity::fail);
    // Guarded: 0.22 is over 0.2 by less than 1.96 * 0.02.
    Documents guarded = documents(recordings + supplied("0.22"));
    guarded.rule = "kind = \"guarded\"";
    write_documents(guarded);
    EXPECT_EQ(judgement().statement, plan::Conformity::conditional_pass);
}

TEST_F(Induction, ReportsWhatWasSuppliedAndWhatWasTheReference) {
    record_empty_fixture();
    record("a.csv", slow(6));
    write_documents(documents(runs_of("empty.csv", empty_fixture) + runs_of("a.csv", front) +
                              "[[supplied]]\nquantity = \"shielding_factor\"\nvalue = 0.31\nu = 0.02\n"
                              "source = \"another laboratory\"\n"));
    const auto files = work::folder_files(folder_.path());
    auto order = work::judge_order(*files, Instant{});
    ASSERT_TRUE(order.ok()) << order.error().text();
    auto input = work::report_input(*files, std::move(order).value());
    ASSERT_TRUE(input.ok());
    const std::string html = report::to_html(*input).value();
    for (const char* said : {"shielding_factor &gt; 0.2", "another laboratory", "reference, not judged",
                             "without specimen", "step of the field electrode", "induction electrode"})
        EXPECT_NE(html.find(said), std::string::npos) << said;
}

TEST_F(OtherApparatus, ARunWithoutSpecimenForAMethodThatTakesNoneIsRefused) {
    Documents d = half_life();
    d.rows = runs_of("a.csv", empty_fixture);
    write("a.csv", csv(simulate(RunPlan{.initial_V = 2000}, 1)));
    write_documents(d);
    expect_refused({"without specimen", "a.csv", "order.toml:"});
}

TEST_F(OtherApparatus, EveryWrongPairingIsRefusedByAllItsNames) {
    write("a.csv", csv(simulate(RunPlan{.initial_V = 2000}, 1)));
    // The specification's apparatus is another.
    Documents d = half_life();
    d.specification = "en-1149-5-specification";
    d.specification_edition = "EN 1149-5";
    write_documents(d);
    expect_refused({"gbt-12703-1-half-life-method", "corona charging", "en-1149-5-specification",
                    "induction electrode", "bench-7"});
    // The bench's is another.
    for (const char* apparatus : {"clamp_discharge", "charged_plate", "induction_electrode"}) {
        d = half_life();
        d.apparatus = apparatus;
        write_documents(d);
        expect_refused({"gbt-12703-1-half-life-method", "gbt-12703-1-half-life-specification", "bench-7"});
    }
    // No bench says where the recordings come from.
    d = half_life();
    d.bench = false;
    write_documents(d);
    expect_refused({"no bench is named", "corona charging", "bench file"});
}

TEST_F(OtherApparatus, ClampsWithoutABenchAreTakenAndFlagged) {
    RunPlan plan{.hold_s = 20, .fall_s = 3, .samples = 24000, .initial_V = 5000};
    plan.fall = [](double t) { return std::exp(-t / 0.1); };
    write("a.csv", csv(simulate(plan, 1)));
    Documents d;
    d.method = "nfpa-99-legacy-method";
    d.specification = "nfpa-99-legacy-specification";
    d.method_edition = d.specification_edition = "legacy, secondary summary";
    d.rows = runs_of("a.csv", front);
    d.bench = false;
    write_documents(d);
    const judge::Judgement result = judgement();
    EXPECT_EQ(result.statement, plan::Conformity::pass);
    const auto& flags = result.runs.at(0).flags;
    EXPECT_NE(std::ranges::find(flags, plan::FlagCode::bench_unknown, &plan::Flag::code), flags.end());
}

TEST_F(OtherApparatus, FoamWithALimitOfItsOwnOrderIsTimedFromTheGrounding) {
    std::string rows;
    for (int i = 1; i <= 3; ++i)
        for (const char* sign : {"+", "-"}) {
            RunPlan plan{.fall_s = 3, .samples = 8000, .initial_V = 4950, .noise_V = 1};
            if (*sign == '-') plan.initial_V = -4950;
            plan.fall = [](double t) { return std::exp(-t / 0.3); };
            const std::string file = std::string(*sign == '-' ? "n" : "p") + std::to_string(i) + ".csv";
            write(file, csv(simulate(plan, static_cast<std::uint64_t>(i))));
            rows +=
                runs_of(file, "{ specimen = \"S1\", face = \"front\", conditions = \"air\", polarity = \"" +
                                  std::string(sign) + "\", replicate = " + std::to_string(i) + " }");
        }
    std::string own = plate_specification;
    for (const auto& [from, to] :
         {std::pair{"charged_plate", "clamp_discharge"}, std::pair{"100 V", "500 V"}})
        own.replace(own.find(from), std::string(from).size(), to);
    write("own.toml", own);
    Documents d;
    d.method = "mil-prf-87260b-method";
    d.method_edition = "MIL-PRF-87260B";
    d.specification = "own.toml";
    d.specification_edition = "1";
    d.rows = rows;
    write_documents(d);
    const judge::Judgement result = judgement();
    EXPECT_EQ(result.statement, plan::Conformity::pass);
    ASSERT_EQ(result.requirements.at(0).findings.size(), 6u);
    for (const judge::Finding& finding : result.requirements[0].findings)
        EXPECT_NEAR(*finding.value_s, 0.3 * std::log(9.9), 4 * *finding.u_s);
}

}  // namespace
