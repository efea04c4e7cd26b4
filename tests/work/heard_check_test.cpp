// A bench check that is heard from a bench with its own controls: what it finds, what it does not take, and
// what follows from it for runs that are heard after it.

#include "work/heard_check.hpp"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>

#include "support/program.hpp"
#include "work/judge_order.hpp"
#include "work/listen.hpp"
#include "work/measure_order.hpp"
#include "work/order_files.hpp"

namespace ebbtide::work {
namespace {

using namespace testing_support;

const std::string example = EBBTIDE_SOURCE_DIR "/examples/awning-live";

constexpr const char* plate = R"({ specimen = "plate" }, { specimen = "plate", voltage_V = -5000 })";
constexpr const char* second =
    R"({ specimen = "plate", voltage_V = 2500 }, { specimen = "plate", voltage_V = -2500 })";
constexpr const char* the_rest = R"({}, { voltage_V = -5000 },
    { specimen = "standard" }, { specimen = "standard", voltage_V = -5000 },
    { specimen = "blank" }, { specimen = "blank", voltage_V = -5000 })";

/// The bench of the awning order, run by hand.
class HeardCheck : public ::testing::Test {
  protected:
    void SetUp() override {
        std::filesystem::copy(example, folder(), std::filesystem::copy_options::recursive);
    }
    [[nodiscard]] std::string folder() const { return beside_ / "order"; }
    [[nodiscard]] std::string path(const std::string& name) const { return folder() + "/" + name; }

    void change_bench(const std::string& from, const std::string& to) const {
        std::string bench = bytes_of(path("bench.toml"));
        const std::size_t at = bench.find(from);
        ASSERT_NE(at, std::string::npos) << from;
        write_bytes(path("bench.toml"), bench.replace(at, from.size(), to));
    }
    /// The simulated bench, whose hands make these runs one after the other.
    LiveSource source(const std::string& runs, const std::string& sensor = "") const {
        std::string simulation = bytes_of(example + "/simulation.toml");
        if (!sensor.empty()) {
            const std::size_t at = simulation.find("band_V = 6");
            simulation.replace(at, 10, sensor + "\nband_V = 6");
        }
        simulation += fmt::format(
            "\n[run]\ncharge_s = 5\ndecay_s = 3\nafter_s = 1\n[[recording]]\nfile = \"check\"\nruns = [{}]\n",
            runs);
        write_bytes(path("heard.toml"), simulation);
        recording::ReadOptions read;
        name_as_bench(read, bench());
        auto opened =
            open_live_source({fmt::format("simulated:{}?pace=fast", path("heard.toml")), false, read, {}});
        EXPECT_TRUE(opened) << (opened ? "" : opened.error().text());
        return opened ? std::move(opened).value() : LiveSource{};
    }
    [[nodiscard]] plan::Bench bench() const {
        auto bench = bench_to_hear(path("bench.toml"));
        EXPECT_TRUE(bench) << (bench ? "" : bench.error().text());
        return bench ? std::move(bench).value() : plan::Bench{};
    }
    BenchCheckAnswer check(const std::string& runs, const char* at = "2026-11-25T08:00:00Z",
                           const std::string& sensor = "", bool closing = false) {
        LiveSource from = source(runs, sensor);
        HeardCheckRequest request;
        request.source = "the simulated bench";
        request.bench_file = path("bench.toml");
        request.bench = bench();
        request.closing = closing;
        request.who = "TO";
        request.now = [at] { return parse_instant(at).value(); };
        auto answer = hear_check(from, request, {[this](const LiveEvent& event) { told_.push_back(event); }});
        EXPECT_TRUE(answer) << (answer ? "" : answer.error().text());
        return answer ? std::move(answer).value() : BenchCheckAnswer{};
    }
    static std::string all_steps() { return fmt::format("{}, {}, {}", plate, second, the_rest); }

    /// A run of specimen A1, heard into the order at that instant; whether a check is behind it by its flags.
    judge::JudgedRun heard_run(const char* at) {
        auto order = LiveOrder::open({folder(), "dry", "", parse_instant(at).value()});
        EXPECT_TRUE(order) << (order ? "" : order.error().text());
        LiveSource from = source(R"({ specimen = "A1" })");
        ListenRequest request;
        request.source = "the simulated bench";
        request.measure = (*order)->measure_request();
        request.now = [at] { return parse_instant(at).value(); };
        EXPECT_TRUE(listen(from, request, order->get(), {}));
        const auto judged = judge_order(*folder_files(folder()), Instant{});
        EXPECT_TRUE(judged) << (judged ? "" : judged.error().text());
        if (!judged) return {};
        for (const judge::JudgedRun& run : judged->record.judgement.runs)
            if (!run.run_id.empty()) return run;
        ADD_FAILURE() << "no run was judged";
        return {};
    }
    TemporaryFolder beside_;
    std::vector<LiveEvent> told_;
};

template <class Event>
std::vector<Event> of_kind(const std::vector<LiveEvent>& told) {
    std::vector<Event> out;
    for (const LiveEvent& event : told)
        if (const auto* one = std::get_if<Event>(&event)) out.push_back(*one);
    return out;
}

std::vector<plan::FlagCode> check_flags(const judge::JudgedRun& run) {
    std::vector<plan::FlagCode> out;
    for (const plan::Flag& flag : run.flags)
        if (flag.code == plan::FlagCode::bench_check_stale ||
            flag.code == plan::FlagCode::bench_check_failed || flag.code == plan::FlagCode::bench_check_held)
            out.push_back(flag.code);
    return out;
}

std::optional<double> figure(const BenchCheckAnswer& answer, const std::string& name,
                             plan::Polarity polarity) {
    for (const bench::CheckFigure& one : answer.figures)
        if (one.name == name && one.polarity == polarity) return one.value;
    return {};
}

TEST_F(HeardCheck, FindsAGoodBenchGood) {
    const BenchCheckAnswer answer = check(all_steps());
    EXPECT_TRUE(answer.good) << answer.reason;
    EXPECT_EQ(answer.steps.size(), 10u);
    EXPECT_EQ(answer.figures.size(), 12u);
    EXPECT_EQ(iso_text(answer.good_until.value()), "2026-11-26T08:00:00Z");  // valid_h = 24
    for (const plan::Polarity polarity : {plan::Polarity::positive, plan::Polarity::negative}) {
        // A plate has the electrodes' voltage; the fixture's 11 % are those of two independent 2-D models;
        // the standard: R (C + Cs + Cc) ln((1 - Cc / sum) / p), 2e9 ohm, 105 pF, Cc 2 pF.
        EXPECT_NEAR(figure(answer, "span", polarity).value_or(0), 1, 0.01);
        EXPECT_NEAR(figure(answer, "linearity", polarity).value_or(0), 1, 0.01);
        EXPECT_NEAR(figure(answer, "induced_fraction", polarity).value_or(0), 0.11, 0.01);
        EXPECT_NEAR(figure(answer, "standard_decay", polarity).value_or(0), 0.4795, 0.005);
        EXPECT_NEAR(figure(answer, "blank_accepted", polarity).value_or(9), 0, 0.01);
    }
    EXPECT_EQ(nlohmann::json::parse(bytes_of(path(answer.file))), json_of(answer));
    for (const BenchCheckStep& step : answer.steps)
        EXPECT_TRUE(std::filesystem::exists(path("checks/" + step.file)));
}

TEST_F(HeardCheck, AsksForEachStepAndSaysWhenItIsTaken) {
    check(all_steps());
    const auto asked = of_kind<QuestionAsked>(told_);
    ASSERT_EQ(asked.size(), 10u);
    EXPECT_NE(asked[0].question.words.find("Step 1 of 10. Clamp the metal plate"), std::string::npos)
        << asked[0].question.words;
    EXPECT_NE(asked[0].question.words.find("Charge to +5000 V, hold it for 5 s"), std::string::npos);
    // The plate hangs there already.
    EXPECT_EQ(asked[3].question.words, "Step 4 of 10. Charge to -2500 V, hold it for 5 s, earth the clamps.");
    EXPECT_EQ(of_kind<QuestionAnswered>(told_).size(), 10u);
    const auto recorded = of_kind<StepRecorded>(told_);
    ASSERT_EQ(recorded.size(), 10u);
    EXPECT_EQ(recorded[3].step, "plate second -");
    EXPECT_TRUE(of_kind<SessionEnded>(told_).back().done);
}

TEST_F(HeardCheck, FindsWhatIsWrongWithABench) {
    change_bench("standard_decay_s = 0.48", "standard_decay_s = 0.6");
    const BenchCheckAnswer off = check(all_steps());
    EXPECT_FALSE(off.good);
    EXPECT_NE(off.reason.find("standard decay"), std::string::npos) << off.reason;
    EXPECT_EQ(off.reason.find("span"), std::string::npos) << off.reason;
    change_bench("standard_decay_s = 0.6", "standard_decay_s = 0.48");
    change_bench("span_tolerance = 0.03", "span_tolerance = 0.0001");
    const BenchCheckAnswer narrow = check(all_steps(), "2026-11-25T08:30:00Z");
    EXPECT_NE(narrow.reason.find("span"), std::string::npos) << narrow.reason;
    EXPECT_FALSE(narrow.good_until);
}

TEST_F(HeardCheck, TakesNoRunThatIsNotTheStepsOwn) {
    // The wrong polarity first, then a voltage far off, then what is asked for.
    const BenchCheckAnswer answer = check(fmt::format(
        R"({{ specimen = "plate", voltage_V = -5000 }}, {{ specimen = "plate", voltage_V = 3000 }}, {})",
        all_steps()));
    EXPECT_TRUE(answer.good) << answer.reason;
    EXPECT_EQ(answer.steps.size(), 12u);
    const auto refused = of_kind<RunAborted>(told_);
    ASSERT_EQ(refused.size(), 2u);
    EXPECT_EQ(refused[0].words, "It was charged -, and + is asked for.");
    EXPECT_NE(refused[1].words.find("5000 V is asked for"), std::string::npos) << refused[1].words;
    for (std::size_t i = 0; i < 2; ++i) {
        EXPECT_EQ(answer.steps[i].words, refused[i].words);
        EXPECT_TRUE(std::filesystem::exists(path("checks/" + answer.steps[i].file)));
    }
}

TEST_F(HeardCheck, ThatWasNotMadeToItsEndIsOnRecordAndNotGood) {
    const BenchCheckAnswer answer = check(plate);
    EXPECT_FALSE(answer.good);
    EXPECT_NE(answer.reason.find("ended after 2 of 10 steps"), std::string::npos) << answer.reason;
    EXPECT_TRUE(std::filesystem::exists(path(answer.file)));
    EXPECT_EQ(of_kind<SessionEnded>(told_).back().open, 8u);
}

TEST_F(HeardCheck, NeedsLimitsAndNoCommands) {
    std::string bench = bytes_of(path("bench.toml"));
    const std::size_t drive = bench.find("[drive]"), check_table = bench.find("[check]");
    write_bytes(path("bench.toml"), bench.substr(0, drive) + bench.substr(check_table));
    EXPECT_TRUE(check(all_steps()).good);
    bench = bench.substr(0, check_table) + bench.substr(bench.find("[[setup]]"));
    write_bytes(path("bench.toml"), bench);
    const auto none = bench_to_hear(path("bench.toml"));
    ASSERT_FALSE(none);
    EXPECT_NE(none.error().text().find("no table [check]"), std::string::npos) << none.error().text();
}

TEST_F(HeardCheck, StandsBehindRunsThatAreHeardAfterIt) {
    check(all_steps());
    EXPECT_EQ(check_flags(heard_run("2026-11-25T09:00:00Z")), std::vector<plan::FlagCode>{});
}

TEST_F(HeardCheck, ThatIsMissingOrRanOutLeavesRunsUnproven) {
    EXPECT_EQ(check_flags(heard_run("2026-11-25T09:00:00Z")),
              std::vector<plan::FlagCode>{plan::FlagCode::bench_check_stale});
    std::filesystem::remove(path("live.toml"));
    check(all_steps());
    EXPECT_EQ(check_flags(heard_run("2026-11-26T09:00:00Z")),
              std::vector<plan::FlagCode>{plan::FlagCode::bench_check_stale});
}

TEST_F(HeardCheck, ThatFailsAfterTheWorkHoldsWhatWasHeardBefore) {
    check(all_steps());
    heard_run("2026-11-25T09:00:00Z");
    change_bench("standard_decay_s = 0.48", "standard_decay_s = 0.6");
    EXPECT_FALSE(check(all_steps(), "2026-11-25T16:00:00Z", "", true).good);
    const auto judged = judge_order(*folder_files(folder()), Instant{});
    ASSERT_TRUE(judged) << judged.error().text();
    const auto& runs = judged->record.judgement.runs;
    const auto run = std::ranges::find_if(runs, [](const auto& one) { return !one.run_id.empty(); });
    ASSERT_NE(run, runs.end());
    EXPECT_EQ(check_flags(*run), std::vector<plan::FlagCode>{plan::FlagCode::bench_check_held});
}

}  // namespace
}  // namespace ebbtide::work
