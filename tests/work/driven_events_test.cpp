// A driven bench as a stream of live events: what a page or a terminal needs to show a session, and no more
// than the format page explains.

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "bench/scripted_bench.hpp"
#include "work/bench_check.hpp"
#include "work/live_json.hpp"
#include "work/scripted_order.hpp"

namespace ebbtide::work {
namespace {

using nlohmann::json;
using testing_support::NoisyBench;
using testing_support::ScriptedOrder;
using testing_support::WillingPerson;

constexpr std::size_t places = 8;

struct Heard {
    std::vector<LiveEvent> events;

    [[nodiscard]] std::vector<LiveSink> sinks() {
        return {[this](const LiveEvent& event) { events.push_back(event); }};
    }
    template <typename Event>
    [[nodiscard]] std::vector<Event> all() const {
        std::vector<Event> out;
        for (const LiveEvent& event : events)
            if (const auto* one = std::get_if<Event>(&event)) out.push_back(*one);
        return out;
    }
};

void expect_documented(const Heard& heard) {
    const std::string page = testing_support::bytes_of(EBBTIDE_SOURCE_DIR "/docs/formats/live.md");
    std::set<std::string> checked;
    for (const LiveEvent& event : heard.events) {
        const json line = event_line(event);
        const std::string name = line["event"];
        if (name == "run_recorded" || !checked.insert(name).second) continue;
        const std::size_t row = page.find("| `" + name + "` |");
        ASSERT_NE(row, std::string::npos) << name;
        const std::string explained = page.substr(row, page.find('\n', row) - row);
        for (const auto& [key, value] : line.items())
            EXPECT_TRUE(key == "schema" || key == "event" || key == "bench_s" ||
                        explained.find("`" + key + "`") != std::string::npos)
                << name << " " << key;
    }
}

TEST(DrivenEvents, TellASessionFromItsBeginningToItsEnd) {
    const ScriptedOrder order;
    NoisyBench bench;
    WillingPerson hands;
    Heard heard;
    ASSERT_TRUE(drive(bench, order.request(), hands.person(), heard.sinks()).ok());
    expect_documented(heard);
    const auto* begun = std::get_if<SessionBegun>(&heard.events.front());
    ASSERT_NE(begun, nullptr);
    EXPECT_EQ(begun->open, places);
    EXPECT_EQ(begun->who, "TO");
    const auto* ended = std::get_if<SessionEnded>(&heard.events.back());
    ASSERT_NE(ended, nullptr);
    EXPECT_TRUE(ended->done) << ended->words;
    EXPECT_EQ(ended->recorded, places);
    EXPECT_EQ(heard.all<BenchFound>().size(), 1u);
    EXPECT_FALSE(heard.all<BenchFound>().front().output_was_on);
    // The plan fills in, run by run.
    const auto plans = heard.all<PlanChanged>();
    ASSERT_FALSE(plans.empty());
    EXPECT_EQ(std::ranges::count(plans.front().places, true, &PlanPlace::filled), 0);
    EXPECT_EQ(std::ranges::count(plans.back().places, true, &PlanPlace::filled), static_cast<int>(places));
    EXPECT_FALSE(plans.back().next);
    const auto begins = heard.all<RunBegun>();
    const auto recorded = heard.all<RunRecorded>();
    ASSERT_EQ(begins.size(), places);
    ASSERT_EQ(recorded.size(), places);
    for (std::size_t i = 0; i < places; ++i) {
        EXPECT_EQ(begins[i].place, recorded[i].place);
        ASSERT_TRUE(recorded[i].readings);
        EXPECT_GT(recorded[i].readings->held_V.value_or(0), 4000);
    }
    // Every question is answered under its number.
    const auto asked = heard.all<QuestionAsked>();
    const auto answered = heard.all<QuestionAnswered>();
    ASSERT_EQ(asked.size(), hands.asked.size());
    ASSERT_EQ(asked.size(), answered.size());
    for (std::size_t i = 0; i < asked.size(); ++i) {
        EXPECT_EQ(asked[i].question.number, i + 1);
        EXPECT_EQ(answered[i].question.number, i + 1);
    }
}

TEST(DrivenEvents, ShowBothChannelsInVoltsATenthOfASecondAtATime) {
    const ScriptedOrder order;
    NoisyBench bench;
    WillingPerson hands;
    Heard heard;
    ASSERT_TRUE(drive(bench, order.request(), hands.person(), heard.sinks()).ok());
    const auto opened = heard.all<SourceOpened>();
    ASSERT_EQ(opened.size(), 1u);
    ASSERT_EQ(opened[0].channels.size(), 2u);
    EXPECT_EQ(opened[0].channels[0].quantity, trace::Quantity::specimen_voltage);
    const auto frames = heard.all<Frame>();
    ASSERT_GT(frames.size(), 100u);
    double highest_V = 0, last_s = -1;
    std::uint64_t samples = 0;
    for (const Frame& frame : frames) {
        EXPECT_GT(frame.from_s, last_s);
        last_s = frame.to_s;
        ASSERT_EQ(frame.channels.size(), 2u);
        samples += frame.channels[1].samples;
        highest_V = std::max(highest_V, frame.channels[1].highest);
    }
    // 5000 V within 100 V, as the method charges; a millisecond a sample: nothing is left out.
    EXPECT_NEAR(highest_V, 5000, 150);
    EXPECT_NEAR(static_cast<double>(samples), last_s * 1000, 200);
}

TEST(DrivenEvents, SayHowLongAPhaseLastsWhereThatIsSet) {
    const ScriptedOrder order;
    NoisyBench bench;
    WillingPerson hands;
    Heard heard;
    ASSERT_TRUE(drive(bench, order.request(), hands.person(), heard.sinks()).ok());
    const auto phases = heard.all<PhaseEntered>();
    std::map<std::string, std::size_t> told;
    for (std::size_t i = 0; i + 1 < phases.size(); ++i) {
        if (!phases[i].lasts_s) continue;
        ++told[phases[i].phase];
        // Shutter and relays answer within a few looks; the zero's and the residual's readings wait for them.
        EXPECT_NEAR(phases[i + 1].bench_s - phases[i].bench_s, *phases[i].lasts_s, 0.25) << phases[i].phase;
    }
    for (const char* phase : {"waiting", "zeroing", "holding"}) EXPECT_GT(told[phase], 0u) << phase;
    for (const char* phase : {"safe", "charging", "released", "recorded"})
        EXPECT_EQ(told[phase], 0u) << phase;
}

TEST(DrivenEvents, SayOfEachGuardWhetherItIsMetOrStillBeingRead) {
    const ScriptedOrder order;
    NoisyBench bench;
    WillingPerson hands;
    Heard heard;
    ASSERT_TRUE(drive(bench, order.request(), hands.person(), heard.sinks()).ok());
    const auto guard_of = [](const std::vector<LiveGuard>& guards, const std::string& name) {
        const auto found = std::ranges::find(guards, name, &LiveGuard::name);
        return found == guards.end() ? std::optional<LiveGuard>() : *found;
    };
    for (const PhaseEntered& entered : heard.all<PhaseEntered>())
        for (const LiveGuard& guard : entered.guards) EXPECT_FALSE(guard.met) << guard.name;
    std::size_t zeroings = 0;
    for (const GuardsChanged& changed : heard.all<GuardsChanged>()) {
        if (changed.phase != "zeroing") continue;
        const auto read = guard_of(changed.guards, "zero_read"),
                   limit = guard_of(changed.guards, "zero_within_limit"),
                   door = guard_of(changed.guards, "interlock_closed");
        ASSERT_TRUE(read && limit && door);
        EXPECT_EQ(read->met, false);
        EXPECT_EQ(limit->met, std::nullopt);
        EXPECT_EQ(door->met, true);
        EXPECT_EQ(door->remedy, "Close the door");
        ++zeroings;
    }
    EXPECT_GE(zeroings, places);
}

TEST(DrivenEvents, SayOfAStoppedRunWhatIsWrongAndEndTheSession) {
    const ScriptedOrder order;
    NoisyBench bench;
    WillingPerson hands;
    Heard heard;
    bench.disturb = [&](double, bench::Observation& seen) {
        if (bench.output_on()) seen.interlock_closed = bench::State::no;
        return true;
    };
    hands.otherwise = [](const Question& question) -> std::optional<Answer> {
        if (question.kind == Question::Kind::look) return Answer::stop;
        return {};
    };
    ASSERT_TRUE(drive(bench, order.request(), hands.person(), heard.sinks()).ok());
    expect_documented(heard);
    const auto aborted = heard.all<RunAborted>();
    ASSERT_EQ(aborted.size(), 1u);
    EXPECT_NE(aborted[0].words.find("interlock is open"), std::string::npos) << aborted[0].words;
    EXPECT_NE(aborted[0].words.find("Close the door"), std::string::npos) << aborted[0].words;
    EXPECT_TRUE(aborted[0].file.starts_with("aborted/")) << aborted[0].file;
    const auto ended = heard.all<SessionEnded>();
    ASSERT_EQ(ended.size(), 1u);
    EXPECT_FALSE(ended[0].done);
    EXPECT_EQ(ended[0].open, places);
}

TEST(DrivenEvents, TellABenchCheckStepByStep) {
    const ScriptedOrder order{testing_support::scripted_check_toml};
    NoisyBench bench;
    WillingPerson hands;
    hands.otherwise = [&](const Question& question) -> std::optional<Answer> {
        if (question.mounted)
            bench.hang(*question.mounted == bench::Mounted::plate      ? 0
                       : *question.mounted == bench::Mounted::standard ? 0.2
                                                                       : INFINITY);
        return {};
    };
    Heard heard;
    BenchCheckRequest request;
    request.bench_file = order.path("bench.toml");
    request.who = "TO";
    request.began = order.request().began;
    const auto checked = check_bench(bench, request, hands.person(), heard.sinks());
    ASSERT_TRUE(checked.ok()) << checked.error().text();
    expect_documented(heard);
    EXPECT_EQ(heard.all<StepRecorded>().size(), checked->steps.size());
    EXPECT_EQ(heard.all<RunBegun>().front().step, "plate +");
    const auto figures = heard.all<BenchChecked>();
    ASSERT_EQ(figures.size(), 1u);
    EXPECT_EQ(figures[0].good, checked->good);
    EXPECT_EQ(figures[0].figures.size(), checked->figures.size());
    const auto* ended = std::get_if<SessionEnded>(&heard.events.back());
    ASSERT_NE(ended, nullptr);
    EXPECT_TRUE(ended->done) << ended->words;
    EXPECT_EQ(ended->open, 0u);
}

}  // namespace
}  // namespace ebbtide::work
